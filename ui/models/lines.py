"""A piece, or one part of it, as readable lines: places, who vouches, what is wrong, each field, bytes no field covers.

Every byte of what is shown belongs to a line, so that choosing any byte finds one. Small parts are shown in place; of a
reading with many, and of what was unpacked, each part is one line that can be stepped into.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from ui import text
from ui.models.signature_lines import Said, of_program, of_signature
from ui.models.stretches import Stretch, stretches_of
from ui.models.ways import Way, extent, part_at

if TYPE_CHECKING:
    from catalogue.shapes.piece import PieceDetail
    from catalogue.shapes.reading import DateClaim, Fault, Member, Reading, VersionClaim


MOST_LINES = 4_000
MOST_LISTED = 500
MOST_GAPS = 1_000
"""Stretches without a field that have a line each; the rest share one."""
MOST_INLINE = 400
"""Lines that a reading and its parts may have together before each part becomes one line."""
MOST_MEMBERS = 60
"""Members of an archive, or entries of a list, shown in place; more have a list of their own."""
MOST_CLAIMS = 6
"""Versions, or dates, shown in place."""
RUNG_WORDS = {
    "signed": "signed by a key the family trusts",
    "named": "named by a source",
    "ran": "ran on a card that compared well",
    "agreed": "two unrelated archives agree",
    "neighbour": "a list beside it agrees",
    "none": "nothing vouches for it",
}
SIGNATURE_WORDS = {"broken": "not of these bytes", "taken-back": "by a key that was taken back"}
RUNG_SHORT = {
    "signed": "by a key",
    "named": "by a source",
    "ran": "on a card here",
    "agreed": "two archives",
    "neighbour": "a list beside it",
}


@dataclass(frozen=True, slots=True)
class Line:
    """One line. `kind` is heading, place, fact, field, gap, stop, note, said, part, member or list.

    `offset` and `length` are the bytes it stands for, counted as its stand counts; None where it has none there.
    `way` leads to the part that can be stepped into here, `link` is the member that can be opened, `long` the
    list ("members", "entries", "versions" or "dates") of the reading at `of`.
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
    way: Way | None = None
    link: str = ""
    long: str = ""
    of: Way = ()

    @property
    def has_bytes(self) -> bool:
        """Whether bytes stand under it."""
        return self.offset is not None and self.length > 0 and self.kind != "part"

    @property
    def action(self) -> str:
        """What Enter does here, in two words; "" for nothing."""
        if self.way is not None:
            return "Step in"
        if self.long:
            return "List them"
        return "Open it" if self.link else ""

    def covers(self, at: int) -> bool:
        """Whether byte `at` is one of its own."""
        return self.offset is not None and self.offset <= at < self.offset + self.length


def lines_of(
    detail: PieceDetail, way: Way = (), start: int = 0, end: int | None = None, today: date | None = None
) -> list[Line]:
    """All lines of a piece or of the part at `way`, in the order they are read, with a line for each byte of
    [start, end); at most MOST_LINES and one that says how many are left out, and the gaps."""
    made: list[Line] = []
    end = detail.info.size if end is None else end
    day = today or date.today()
    for line in _Lines(detail, day).of(way):
        if len(made) >= MOST_LINES:
            made.append(Line("note", "More", "", "this piece has more lines than are shown here", mark="note"))
            break
        made.append(line)
    return [*made, *_gaps(stretches_of(part_at(detail.reading, way), start, end, way), made)]


def _about(detail: PieceDetail) -> Iterator[Line]:
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
        since = f", since {vouch.since[:10]}" if vouch.since else ""
        words, where = RUNG_WORDS.get(vouch.rung, "") + how + since, text.plain(vouch.place, 400)
        yield Line("fact", vouch.rung, by, words, mark=vouch.rung, where=where)
    for against in detail.contradicted[:MOST_LISTED]:
        yield Line(
            "stop",
            "contradicted",
            f"{text.plain(against.place)}, line {against.line}",
            f"wants {against.algorithm} {against.want}, the bytes give {against.have}",
            mark="stop",
        )
    for check in detail.signatures[:MOST_LISTED]:
        if check.state == "holds":
            continue  # it stands above, as what vouches for the piece
        mark = "stop" if check.state == "broken" else "note"
        what = SIGNATURE_WORDS.get(check.state, "not relied on")
        who = f"{what}: {text.plain(check.key, 200)}"
        yield Line(mark, "signature", who, text.plain(check.why, 300), mark=mark, where=check.place)
    yield from _claims((), info.versions, info.dates)


def _claims(way: Way, versions: Sequence[VersionClaim], dates: Sequence[DateClaim]) -> Iterator[Line]:
    """The versions and dates that are claimed, many of them in a list of their own."""
    for name, claims in (("version", versions), ("date", dates)):
        if not claims:
            continue
        yield Line("heading", f"{text.begun(name)}s read from its bytes", f"{len(claims):,}")
        for claim in claims[:MOST_CLAIMS]:
            length = len(claim.value.encode("utf-8", "replace")) if claim.offset is not None else 0
            yield Line("field", name, text.plain(claim.value, 200), text.plain(claim.source), claim.offset, length)
        if len(claims) > MOST_CLAIMS:
            what = f"all {len(claims):,} {name}s"
            yield Line("list", what, "", "each with where it was read from", long=f"{name}s", of=way)


class _Lines:
    """Makes the lines of one stand."""

    def __init__(self, detail: PieceDetail, today: date) -> None:
        self.detail = detail
        self.today = today

    def of(self, way: Way) -> Iterator[Line]:
        """The lines of the part at `way`, of the whole piece for ()."""
        reading = part_at(self.detail.reading, way)
        if not way:
            yield from _about(self.detail)
        yield from self.reading(reading, way, 0, _weight(reading, MOST_INLINE) > MOST_INLINE)
        if way:
            yield from _claims(way, reading.versions, reading.dates)

    def reading(self, reading: Reading, way: Way, depth: int, folded: bool) -> Iterator[Line]:
        """One reading and its parts, `folded` to a line each or in place."""
        yield Line("heading", text.plain(reading.title or reading.kind), _stretch(*extent(reading)), depth=depth)
        for fault in reading.faults[:MOST_LISTED]:
            yield _remark("stop", fault, depth)
        for note in reading.notes[:MOST_LISTED]:
            yield _remark("note", note, depth)
        for mark, said, more in (*of_program(reading), *self._signature(reading)):
            yield Line("said", said, "", more, depth=depth, mark=mark)
        for field in reading.fields:
            yield Line(
                "field",
                text.name_of(field.name),
                text.value(field),
                text.plain(field.meaning),
                field.offset,
                field.length,
                depth,
                text.plain(field.source),
                where=_where(field.offset, field.length),
            )
        yield from _entries(reading, way, depth)
        yield from _members(reading, way, depth)
        for position, part in enumerate(reading.parts):
            further = (*way, position)
            if folded or part.layer > reading.layer:
                yield _part(part, further, depth, unpacked=part.layer > reading.layer)
            else:
                yield from self.reading(part, further, depth + 1, folded)

    def _signature(self, reading: Reading) -> Iterator[Said]:
        return of_signature(reading, self.today) if reading.kind.startswith("signature/") else iter(())


def _weight(reading: Reading, most: int) -> int:
    """How many lines a reading makes with its parts in place; counting ends above `most`."""
    made = 1 + len(reading.fields) + len(reading.faults) + len(reading.notes)
    made += min(len(reading.members), MOST_MEMBERS) + min(len(reading.entries), MOST_MEMBERS)
    for part in reading.parts:
        if made > most:
            break
        made += 1 if part.layer > reading.layer else _weight(part, most - made)
    return made


def _part(part: Reading, way: Way, depth: int, *, unpacked: bool) -> Line:
    """A part as one line."""
    start, end = extent(part)
    holds = [
        text.count(len(part.fields), "field") if part.fields else "",
        text.count(len(part.parts), "part") if part.parts else "",
        text.count(len(part.members), "member") if part.members else "",
    ]
    where = f"{text.size(end - start)}, unpacked" if unpacked else _where(start, end - start)
    wrong = text.count(len(part.faults), "thing is", "things are") + " wrong" if part.faults else ""
    return Line(
        "part",
        text.plain(part.title or part.kind, 300),
        "",
        ", ".join(one for one in (wrong, *holds) if one),
        None if unpacked else start,
        0 if unpacked else end - start,
        depth,
        mark="stop" if part.faults else "",
        where=where,
        way=way,
    )


def _entries(reading: Reading, way: Way, depth: int) -> Iterator[Line]:
    count = len(reading.entries)
    if count > MOST_MEMBERS:
        what = text.count(count, "entry", "entries")
        yield Line("list", what, "", "every line of the list", depth=depth, long="entries", of=way)
        return
    for entry in reading.entries:
        name = text.plain(entry.name) or "(no name)"
        yield Line("fact", f"line {entry.line}", name, f"{entry.algorithm} {entry.digest}", depth=depth)


def _members(reading: Reading, way: Way, depth: int) -> Iterator[Line]:
    count = len(reading.members)
    if count > MOST_MEMBERS:
        what = text.count(count, "member")
        yield Line("list", what, "", "everything that lies in the archive", depth=depth, long="members", of=way)
        return
    for member in reading.members:
        mark, facts = member_words(member)
        name = text.plain(member.name, 400)
        yield Line("member", name, "", facts, depth=depth, mark=mark, link="" if member.folder else member.name)


def member_words(member: Member) -> tuple[str, str]:
    """A member's mark and what is said of it."""
    size = "size not said" if member.size is None else text.size(member.size)
    facts = "folder" if member.folder else f"{size}, packed {text.size(member.packed_size)}"
    if member.encrypted:
        facts += ", locked with a password"
    if member.fault:
        facts += f"; {text.plain(member.fault, 300)}"
    return "stop" if member.fault else "note" if member.encrypted else "", facts


def _remark(kind: str, fault: Fault, depth: int) -> Line:
    place = fault.offset
    return Line(kind, fault.code, "", text.plain(fault.text), place, 1 if place is not None else 0, depth, mark=kind)


def _stretch(start: int, end: int) -> str:
    return f"at {text.offset(start)}, {text.size(end - start)}"


def _where(at: int | None, length: int) -> str:
    return "worked out" if at is None else f"at {text.offset(at)}, {text.size(length)}"


def _gaps(stretches: list[Stretch], lines: Iterable[Line]) -> Iterator[Line]:
    """One line for each stretch that no field covers, cut where the ruler's stretches begin."""
    starts, ends = _joined(
        (line.offset, line.offset + line.length)
        for line in lines
        if line.kind in {"field", "part"} and line.offset is not None and line.length > 0
    )
    holes: list[tuple[str, int, int]] = []
    for one in stretches:
        at, end = one.offset, one.offset + one.length
        here = max(0, bisect_right(starts, at) - 1)
        while here < len(starts) and starts[here] < end:
            if ends[here] > at:
                if starts[here] > at:
                    holes.append((one.name, at, starts[here]))
                at = ends[here]
            here += 1
        if at < end:
            holes.append((one.name, at, end))
    if holes:
        yield Line("heading", "Bytes that no field covers", text.size(sum(end - start for _, start, end in holes)))
    for name, start, end in holes[:MOST_GAPS]:
        yield Line("gap", text.plain(name, 200), "", "", start, end - start, where=_where(start, end - start))
    if len(holes) > MOST_GAPS:
        rest = holes[MOST_GAPS:]
        yield Line("gap", f"the rest, {len(rest):,} stretches", "", "", rest[0][1], rest[-1][2] - rest[0][1])


def _joined(covered: Iterable[tuple[int, int]]) -> tuple[list[int], list[int]]:
    """Stretches put together where they touch or overlap: where each begins, and where each ends."""
    starts: list[int] = []
    ends: list[int] = []
    for start, end in sorted(covered):
        if ends and start <= ends[-1]:
            ends[-1] = max(ends[-1], end)
        else:
            starts.append(start)
            ends.append(end)
    return starts, ends


def find(lines: list[Line], at: int, near: int = -1) -> int:
    """The row of the line that byte `at` belongs to: the row `near` if it is one, else the narrowest; -1 for none."""
    bytes_of = {"field", "gap", "part"}
    if 0 <= near < len(lines) and lines[near].covers(at) and lines[near].kind in bytes_of:
        return near
    best = -1
    for row, line in enumerate(lines):
        if line.kind in bytes_of and line.covers(at) and (best < 0 or line.length < lines[best].length):
            best = row
    return best
