"""A piece as readable lines: its places, who vouches for it, what is wrong, each field, and the bytes no field covers.

Every byte of the piece belongs to a line, so that choosing any byte finds one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ui import text

if TYPE_CHECKING:
    from catalogue.shapes.piece import PieceDetail
    from catalogue.shapes.reading import Fault, Reading, Span


MOST_LINES = 4_000
MOST_LISTED = 500
RUNG_WORDS = {
    "signed": "signed by a key the family trusts",
    "named": "named by a source",
    "ran": "ran on a card here",
    "agreed": "two unrelated archives agree",
    "neighbour": "a list beside it agrees",
    "none": "nothing vouches for it",
}
RUNG_SHORT = {
    "signed": "by a key",
    "named": "by a source",
    "ran": "on a card here",
    "agreed": "two archives",
    "neighbour": "a list beside it",
}


@dataclass(frozen=True, slots=True)
class Line:
    """One line. `kind` is heading, place, fact, field, gap, stop or note.

    `offset` and `length` are the bytes shown under it, in the piece itself; None where it has none there.
    """

    kind: str
    name: str
    value: str = ""
    meaning: str = ""
    offset: int | None = None
    length: int = 0
    depth: int = 0
    source: str = ""
    mark: str = ""
    where: str = ""

    @property
    def has_bytes(self) -> bool:
        """Whether bytes stand under it."""
        return self.offset is not None and self.length > 0

    def covers(self, at: int) -> bool:
        """Whether byte `at` is one of its own."""
        return self.offset is not None and self.offset <= at < self.offset + self.length


def lines_of(detail: PieceDetail) -> list[Line]:
    """All lines of a piece, in the order they are read; at most MOST_LINES and one that says how many are left out."""
    made: list[Line] = []
    for line in _lines(detail):
        if len(made) >= MOST_LINES:
            made.append(Line("note", "More", "this piece has more lines than are shown here", mark="note"))
            break
        made.append(line)
    return [*made, *_gaps(detail, made)]


def spans_of(detail: PieceDetail) -> list[Span]:
    """The stretches of the whole piece from its first byte to its last, without holes and without overlap."""
    from catalogue.shapes.reading import Span

    reading, size = detail.reading, detail.info.size
    given: Iterable[Span] = reading.spans or [
        Span(one.title or one.kind, one.offset, one.length) for one in reading.parts if not one.inside
    ]
    made: list[Span] = []
    at = 0
    for span in sorted(given, key=lambda one: (one.offset, -one.length)):
        end = min(span.offset + span.length, size)
        start = max(span.offset, at)
        if start >= end:
            continue
        if start > at:
            made.append(Span("not read", at, start - at))
        made.append(Span(span.name, start, end - start))
        at = end
    if at < size:
        made.append(Span("not read" if made else "the whole piece", at, size - at))
    return made


def _lines(detail: PieceDetail) -> Iterator[Line]:
    info = detail.info
    yield Line("heading", "Where it lies", text.count(len(info.places), "place"))
    for place in info.places[:MOST_LISTED]:
        yield Line("place", text.last_name(str(place)), "", text.plain(str(place)))
    if len(info.places) > MOST_LISTED:
        yield Line("fact", "place", f"and {len(info.places) - MOST_LISTED:,} more")
    yield Line("heading", "Who vouches for it", "" if info.vouch else "nobody yet")
    for vouch in info.vouch[:MOST_LISTED]:
        by = text.plain(vouch.by)
        how = f", by {vouch.algorithm.upper()}" if vouch.algorithm else ""
        yield Line("fact", vouch.rung, by, RUNG_WORDS.get(vouch.rung, "") + how, mark=vouch.rung, where=vouch.place)
    for against in detail.contradicted[:MOST_LISTED]:
        yield Line(
            "stop",
            "contradicted",
            f"{text.plain(against.place)}, line {against.line}",
            f"wants {against.algorithm} {against.want}, the bytes give {against.have}",
            mark="stop",
        )
    if info.versions:
        yield Line("heading", "Versions read from its bytes")
        for claim in info.versions[:MOST_LISTED]:
            length = len(claim.value.encode("utf-8", "replace")) if claim.offset is not None else 0
            yield Line("field", "version", text.plain(claim.value, 200), text.plain(claim.source), claim.offset, length)
    if info.dates:
        yield Line("heading", "Dates read from its bytes")
        for stamp in info.dates[:MOST_LISTED]:
            length = len(stamp.value) if stamp.offset is not None else 0
            yield Line("field", "date", text.plain(stamp.value, 40), text.plain(stamp.source), stamp.offset, length)
    yield from _reading(detail.reading, 0)


def _reading(reading: Reading, depth: int) -> Iterator[Line]:
    unpacked = reading.inside == "unpacked"
    where = f"at {text.offset(reading.offset)}, {text.size(reading.length)}"
    if unpacked:
        where = f"{text.size(reading.length)} once unpacked; offsets count in the unpacked bytes"
    yield Line("heading", text.plain(reading.title or reading.kind), where, depth=depth)
    for fault in reading.faults[:MOST_LISTED]:
        yield _remark("stop", fault, unpacked, depth)
    for note in reading.notes[:MOST_LISTED]:
        yield _remark("note", note, unpacked, depth)
    for field in reading.fields:
        yield Line(
            "field",
            text.name_of(field.name),
            text.value(field),
            text.plain(field.meaning),
            None if unpacked else field.offset,
            field.length,
            depth,
            text.plain(field.source),
            where=_where(field.offset, field.length, unpacked),
        )
    for entry in reading.entries[:MOST_LISTED]:
        yield Line(
            "fact", f"line {entry.line}", text.plain(entry.name) or "(no name)", f"{entry.algorithm} {entry.digest}"
        )
    for member in reading.members[:MOST_LISTED]:
        facts = "folder" if member.folder else f"{text.size(member.size)}, packed {text.size(member.packed_size)}"
        if member.encrypted:
            facts += ", locked with a password"
        if member.fault:
            facts += f"; {text.plain(member.fault)}"
        yield Line("fact", "member", text.plain(member.name), facts, depth=depth, mark="stop" if member.fault else "")
    left = max(len(reading.entries), len(reading.members)) - MOST_LISTED
    if left > 0:
        yield Line("fact", "and more", f"{left:,} further entries")
    for part in reading.parts:
        yield from _reading(part, depth + 1)


def _remark(kind: str, fault: Fault, unpacked: bool, depth: int) -> Line:
    place = None if unpacked else fault.offset
    return Line(kind, fault.code, text.plain(fault.text), "", place, 1 if place is not None else 0, depth, mark=kind)


def _where(at: int | None, length: int, unpacked: bool) -> str:
    if at is None:
        return "worked out"
    return f"at {text.offset(at)}, {text.size(length)}" + (", unpacked" if unpacked else "")


def _gaps(detail: PieceDetail, lines: Iterable[Line]) -> Iterator[Line]:
    """One line for each stretch that no field covers, cut where the ruler's stretches begin."""
    covered = sorted((line.offset, line.offset + line.length) for line in lines
                     if line.kind == "field" and line.offset is not None)  # fmt: skip
    holes: list[tuple[str, int, int]] = []
    for span in spans_of(detail):
        at, end = span.offset, span.offset + span.length
        for start, stop in covered:
            if stop <= at or start >= end:
                continue
            if start > at:
                holes.append((span.name, at, start))
            at = max(at, stop)
        if at < end:
            holes.append((span.name, at, end))
    if holes:
        yield Line("heading", "Bytes that no field covers", text.size(sum(end - start for _, start, end in holes)))
    for name, start, end in holes[:MOST_LINES]:
        yield Line("gap", text.plain(name), "", "", start, end - start, where=_where(start, end - start, False))
    if len(holes) > MOST_LINES:
        rest = holes[MOST_LINES:]
        yield Line("gap", "the rest", "", "", rest[0][1], rest[-1][2] - rest[0][1])


def find(lines: list[Line], at: int, near: int = -1) -> int:
    """The row of the line that byte `at` belongs to: the row `near` if it is one, else the narrowest; -1 for none."""
    if 0 <= near < len(lines) and lines[near].covers(at) and lines[near].kind in {"field", "gap"}:
        return near
    best = -1
    for row, line in enumerate(lines):
        if line.kind in {"field", "gap"} and line.covers(at) and (best < 0 or line.length < lines[best].length):
            best = row
    return best
