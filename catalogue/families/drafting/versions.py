"""The pattern of a role's versions: the longest text before a dotted number that all of the role's pieces share."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from catalogue.families import patterns
from catalogue.families.drafting.given import Piece

MOST_BEFORE = 64
MOST_HEADING = 1_000
MOST_NUMBERS = 400
_DOTTED = re.compile(rb"(?<![0-9A-Za-z.])[0-9]{1,5}(?:\.[0-9]{1,5}){1,4}(?![0-9A-Za-z_.]*[0-9A-Za-z_])")
_PLAIN = re.compile(r"[0-9]+(?:\.[0-9]+)*")
_DAY = re.compile(r"(?:19|20)[0-9]{2}[.-]?(?:0[1-9]|1[0-2])[.-]?(?:0[1-9]|[12][0-9]|3[01])")


@dataclass(frozen=True, slots=True)
class SeenVersion:
    """A pattern that every piece of a role answers; `values` are by SHA-256, `before` is the text without its end."""

    pattern: str
    source: str
    values: dict[str, str]
    before: str


def seen_version(pieces: Iterable[Piece]) -> SeenVersion | None:
    """The pattern of these pieces, None where they share no text before a number."""
    held = tuple(pieces)
    if not held:
        return None
    by_piece = [_texts(one) for one in held]
    shared = set.intersection(*(set(one) for one in by_piece))
    alone = len({one.sha256 for one in held}) == 1 and held[0].kind != "text"
    if alone:  # one piece shows no boundary: the word next to its number. A text's heading begins with its line.
        shared = {one for one in shared if " " not in one.strip()}
    for text in sorted(shared, key=lambda one: (-len(one), by_piece[0][one], one)):
        pattern = f"{text}{{version}}"
        found = {one.sha256: _found(one, pattern) for one in held}
        if all(found.values()):
            values = {sha: match[0] for sha, match in found.items() if match}
            first = found[held[0].sha256]
            at = held[0].at(first[1]) if first else ""
            more = len(held) - 1
            source = f"{at}, shared with {more} more" if more else at
            return SeenVersion(pattern, source, values, text.strip())
    return None


def order_of(values: Iterable[str]) -> str:
    """The order that these versions allow without a guess, "" where several would differ."""
    held = tuple(values)
    if held and all(_DAY.fullmatch(one) for one in held):
        return "date"
    return "numeric" if held and all(_PLAIN.fullmatch(one) for one in held) else ""


def _found(piece: Piece, pattern: str) -> tuple[str, int] | None:
    try:
        found = patterns.find(piece.data, pattern)
    except ValueError:
        return None
    return (found.value, found.offset) if found and found.value and _PLAIN.match(found.value) else None


def _texts(piece: Piece) -> dict[str, int]:
    """Every text that stands before a number of this piece and begins with a word, with the number's place."""
    places = [one.offset for one in piece.versions if one.offset is not None][:MOST_NUMBERS]
    if not places and piece.kind == "text":
        heading = piece.data[:MOST_HEADING].splitlines()[:1]  # further down a text tells of other things' versions
        places = [one.start() for line in heading for one in _DOTTED.finditer(line)]
    out: dict[str, int] = {}
    for at in places:
        for text in _before(piece.data, at):
            for one in _beginnings(text):
                out.setdefault(one, at)
    return out


def _before(data: bytes, at: int) -> tuple[str, ...]:
    """The printable text right before a place, read as ASCII and as UTF-16LE."""
    narrow = re.search(rb"[ -~]*\Z", data[max(0, at - MOST_BEFORE) : at])
    wide = re.search(rb"(?:[ -~]\0)*\Z", data[max(0, at - 2 * MOST_BEFORE) : at])
    texts = (narrow[0].decode("ascii") if narrow else "", wide[0].decode("utf-16-le") if wide else "")
    return tuple(one for one in texts if one)


def _beginnings(text: str) -> list[str]:
    """The ends of a text that begin with a word and are sound as a pattern."""
    out = []
    for found in re.finditer(r"(?<![A-Za-z0-9])[A-Za-z]", text):
        one = text[found.start() :]
        try:
            patterns.tokens(f"{one}{{version}}")
        except ValueError:
            continue
        if len(one.strip()) >= 2 and "~" not in one:
            out.append(one)
    return out
