"""From a piece of evidence to what it speaks of: the way that a press in the window goes.

A place in evidence is text for a person; it is looked up as it stands: a pin, a hash, an indexed place, a file beside
the catalogue (a family file, a host file, a saved text), each of these with a line behind it or not.
"""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Callable
from dataclasses import replace
from itertools import islice
from pathlib import Path

from catalogue.errors import BadCall, NotWorkable
from catalogue.formats import text_decoding
from catalogue.formats.view import BytesView
from catalogue.shapes.finding import Evidence
from catalogue.shapes.piece import INTO
from catalogue.shapes.target import Leads, Target, TextLines
from catalogue.store import Store
from catalogue.tasks import show
from catalogue.tasks.context import Context

PIN, BESIDE, HASH = "pin ", "beside ", "SHA-256 "
HOSTS = ("the destination host", "the bench host")
"""Places of facts that nobody told."""
AROUND = 400
"""Lines shown before and behind the one that is wanted."""
MOST_TEXT = show.MOST_BYTES
_LINE = re.compile(r"(.+):(\d{1,9})", re.DOTALL)
_OFFSET = re.compile(r"(.+), offset (\d{1,9})", re.DOTALL)
"""A place in a saved binary table, as `hosts.esrt` says it."""
_SOURCE = re.compile(r" \(from .*\)(?=(?::\d{1,9})?$)", re.DOTALL)
"""Where a recorded list was had from, behind its file, as `store.recorded` says it."""
_SHA256 = re.compile(r"[0-9a-f]{64}")


def target(context: Context, evidence: Evidence, piece: str | None = None) -> Target:
    """What `evidence` leads to. `piece` is the finding's own, for bytes whose place is not known any more.

    Raises BadCall where nothing is there to be opened.
    """
    with Store.open(context.catalogue) as store:

        def held(place: str) -> str | None:
            outer, *inside = place.split(INTO)
            return store.piece_at(os.fsencode(outer), tuple(inside))

        found = lead(evidence, piece, held, _is_file)
    if found is None:
        raise BadCall(f"{evidence.place} is not there any more, or was never indexed.")
    return found


def lead(
    evidence: Evidence, piece: str | None, held: Callable[[str], str | None], is_file: Callable[[str], bool]
) -> Target | None:
    """As `target`, None for nowhere.

    `held` gives the piece at an indexed place, `is_file` says whether a file lies there.
    """
    place = evidence.place.removeprefix(BESIDE)
    if place.startswith(PIN):
        return Target(Leads.PERSON, place.removeprefix(PIN).partition("=")[0])
    if place in HOSTS:
        return Target(Leads.HOST, place)
    sha256 = place.removeprefix(HASH)
    if _SHA256.fullmatch(sha256):
        return Target(Leads.BYTES, sha256, evidence.offset, evidence.length)
    found = held(place)
    if found is not None:
        return Target(Leads.BYTES, found, evidence.offset, evidence.length)
    cut = _LINE.fullmatch(place)
    if cut is not None:
        within = held(cut[1])
        if within is not None or is_file(cut[1]):
            return Target(Leads.LINE, within or cut[1], line=int(cut[2]))
    at = _OFFSET.fullmatch(place)
    if at is not None and is_file(at[1]):
        return Target(Leads.BYTES, at[1], int(at[2]), evidence.length)
    if is_file(place):
        if evidence.offset is None and place.lower().endswith(".toml"):
            return Target(Leads.LINE, place)
        return Target(Leads.BYTES, place, evidence.offset, evidence.length)
    plain = _SOURCE.sub("", place)
    if plain != place:
        return lead(replace(evidence, place=plain), piece, held, is_file)
    if piece is not None and evidence.offset is not None:
        return Target(Leads.BYTES, piece, evidence.offset, evidence.length)
    return None


def _divided(what: str, said: str) -> list[str]:
    """The lines as whoever gave the number counts them: a list's reader, the TOML files, or a saved text's."""
    if _SHA256.fullmatch(what) or what.lower().endswith(".toml"):
        return [line.rstrip("\r") for line in said.split("\n" if "\n" in said else "\r")]
    return said.splitlines()


def _is_file(path: str) -> bool:
    try:
        return stat.S_ISREG(Path(path).stat().st_mode)
    except (OSError, ValueError):
        return False


def text(context: Context, wanted: Target) -> TextLines:
    """The lines around the one that a target of lines leads to. Raises BadCall, NotWorkable."""
    if wanted.leads is not Leads.LINE:
        raise BadCall("That leads to no line of a text.")
    try:
        data = show.bytes_of(context, wanted.what, 0, MOST_TEXT)
    except OSError as error:
        raise NotWorkable(f"{wanted.what} cannot be read: {error.strerror}.") from error
    said = text_decoding.decode(BytesView(data))
    lines = _divided(wanted.what, said.text if said is not None else data.decode("utf-8", "replace"))
    there = wanted.line if 0 < wanted.line <= len(lines) else 0
    first = max(1, (there or 1) - AROUND)
    shown = tuple(islice(lines, first - 1, (there or 1) + AROUND))
    cut = first > 1 or first - 1 + len(shown) < len(lines) or len(data) == MOST_TEXT
    return TextLines(wanted.what, shown, first, there, cut)
