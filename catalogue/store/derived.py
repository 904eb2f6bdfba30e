"""What is worked out from a piece and its places: the kind its names add, and the text that words are sought in."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import lru_cache

from sqlalchemy import Connection, bindparam, select, update

from catalogue.shapes.piece import Place
from catalogue.shapes.reading import TRUST, DateClaim, Reading, VersionClaim
from catalogue.store import bulk, names, search_index
from catalogue.store.places import places_of
from catalogue.store.readers import FAILED
from catalogue.store.tables import piece, version_claim

COM_TITLE = "DOS COM program, by its name alone"
MOST_COM = 65_280
"""A COM program has 64 KiB less the 256 bytes of the program segment prefix; nothing in its bytes tells it (common
practice, no published source)."""
TEXT_PLACES = 24
"""Places of a piece that go into its text."""
TEXT_VERSIONS = 8
MOST_TEXT = 4_000


def shown_kind(format_: str, kind: str, size: int, file_names: Iterable[str]) -> str:
    """The kind, with what a name adds: bytes that no reader knows, could be a COM program and are called so.

    A piece that a reader knows and still calls opaque, such as an ELF file of no system, has a magic: COM has none.
    """
    if format_ == kind == "opaque" and 0 < size <= MOST_COM:
        for name in file_names:
            if name[-4:].lower() == ".com":
                return "dos-program"
    return kind


def as_named(reading: Reading, kind: str) -> Reading:
    """The reading with the kind that the piece's names add, and a title that says so."""
    if kind == reading.kind:
        return reading
    return replace(reading, kind=kind, title=COM_TITLE)


def readers_of(reading: Reading) -> list[str]:
    """The readers of its parts, where they are others than its own, in order; and FAILED, where one failed."""
    found = {FAILED} if any(fault.code == FAILED for fault in reading.faults) else set()
    ahead = list(reading.parts)
    while ahead:
        one = ahead.pop()
        found.add(one.format)
        ahead += one.parts
    return sorted(found - {reading.format})


def last_name(place: Place) -> str:
    """The name a piece has at a place."""
    return names.last_part(place.inside[-1]) if place.inside else os.path.basename(place.path)  # noqa: PTH119


def near_text(place: Place) -> str:
    """A place as it goes into the text: from the innermost name out to the file's folder."""
    head, tail = os.path.split(place.path)
    return " ".join((*reversed(place.inside), tail, os.path.basename(head)))  # noqa: PTH119


def text_of(kind: str, title: str, versions: Sequence[str], nearby: Iterable[str]) -> str:
    """The case-folded text of a piece: what it is, its versions, its names. That nothing is known of it is no text."""
    said = () if kind == "opaque" else (title, kind)
    text = " ".join((*said, *versions[:TEXT_VERSIONS], *nearby))
    if text.isascii() and "\0" not in text:
        return text.lower()[:MOST_TEXT]
    return names.plain(text.casefold()[:MOST_TEXT])


@lru_cache(maxsize=1_024)
def plain_title(title: str) -> str:
    """A title fit for its column."""
    return names.plain(title)


def versions_in(whole: Reading) -> tuple[VersionClaim, ...]:
    """The version claims of a reading and its parts, the most trusted first, equal ones once."""
    found = dict.fromkeys(one for part in walk(whole) for one in part.versions)
    return tuple(sorted(found, key=lambda one: TRUST.index(one.trust)))


def dates_in(whole: Reading) -> tuple[DateClaim, ...]:
    """The dates stated in a reading and its parts, equal ones once."""
    return tuple(dict.fromkeys(one for part in walk(whole) for one in part.dates))


def version_values(reading: Reading) -> list[str]:
    """The values of a reading's version claims, and of its parts'."""
    return [claim.value for claim in versions_in(reading)]


def ids_named(reading: Reading) -> tuple[tuple[int, int], ...]:
    """Every vendor and device that a reading and its parts name, those of device lists too, equal ones once."""
    found: dict[tuple[int, int], None] = {}
    for one in walk(reading):
        for card in one.ids:
            found[card.vendor, card.device] = None
            found.update(((card.vendor, device), None) for device in card.devices)
    return tuple(found)


def walk(reading: Reading) -> Iterable[Reading]:
    """A reading and its parts, outermost first, but for those that lie unpacked: their offsets are none of the piece.

    What such a part claims stands in the reading around it too.
    """
    yield reading
    for part in reading.parts:
        if not part.inside:
            yield from walk(part)


def renew(connection: Connection, ids: Iterable[int]) -> None:
    """Work out again what depends on the places of these pieces."""
    for some in bulk.batches(sorted(set(ids)), 500):
        lies = places_of(connection, some, TEXT_PLACES)
        claims: dict[int, list[str]] = {}
        for id_, value in connection.execute(
            select(version_claim.c.piece_id, version_claim.c.value)
            .where(bulk.among(version_claim.c.piece_id, some))
            .order_by(version_claim.c.piece_id, version_claim.c.position)
        ).all():
            claims.setdefault(id_, []).append(value)
        columns = (piece.c.id, piece.c.format, piece.c.kind, piece.c.shown_kind, piece.c.size, piece.c.title)
        texts: list[tuple[int, str]] = []
        changed: list[dict[str, object]] = []
        for id_, format_, kind, was, size, title in connection.execute(
            select(*columns).where(bulk.among(piece.c.id, some))
        ).all():
            places = lies.get(id_, ())
            now = shown_kind(format_, kind, size, map(last_name, places))
            if now != was:
                changed.append({"of": id_, "now": now})
            texts.append((id_, text_of(now, title, claims.get(id_, []), map(near_text, places))))
        if changed:
            connection.execute(
                update(piece).where(piece.c.id == bindparam("of")).values(shown_kind=bindparam("now")), changed
            )
        search_index.put(connection, texts)
