"""Which values of two readings differ, part by part: fields, IDs, versions, dates, faults, notes, listed entries."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import repeat, zip_longest

from catalogue.comparing.bounds import MAX_FIELDS
from catalogue.comparing.pairs import Pair, pairs
from catalogue.shapes.comparison import FieldDifference
from catalogue.shapes.reading import Field, Reading

PART = "part"
"""Name of the difference that a part is there on one side only."""


@dataclass(frozen=True, slots=True)
class _Value:
    """A value under a name, and where it stands."""

    name: str
    value: object
    offset: int | None = None
    length: int = 0
    meaning: str = ""


@dataclass(frozen=True, slots=True)
class FieldsFound:
    """The values that differ, how many more were left out, and how many are the same."""

    differing: tuple[FieldDifference, ...]
    left_out: int
    same: int


def fields_between(a: Reading, b: Reading, most: int = MAX_FIELDS) -> FieldsFound:
    """The values that differ in two readings and their parts, at most `most` of them."""
    return fields_of(pairs(a, b), most)


def fields_of(paired: Iterator[Pair] | Sequence[Pair], most: int = MAX_FIELDS) -> FieldsFound:
    """As `fields_between`, of parts that are matched already."""
    told: list[FieldDifference] = []
    left_out = same = 0
    missing: tuple[str, ...] = ()
    for pair in paired:
        if pair.a is None or pair.b is None:
            if any(pair.path.startswith(path) for path in missing):
                continue
            missing = (f"{pair.path} > ",)
            rows: Iterator[FieldDifference | None] = iter([_alone(pair)])
        else:
            rows = _between(pair.path, pair.a, pair.b)
        for row in rows:
            if row is None:
                same += 1
            elif len(told) < most:
                told.append(row)
            else:
                left_out += 1
    return FieldsFound(tuple(told), left_out, same)


def _alone(pair: Pair) -> FieldDifference:
    """A part that only one side has; its own parts go without saying."""
    part = pair.a or pair.b
    assert part is not None
    place = None if part.inside else part.offset
    if pair.a is not None:
        return FieldDifference(
            pair.path, PART, part.title, None, "a", a_offset=place, a_length=part.length, inside=part.inside
        )
    return FieldDifference(
        pair.path, PART, None, part.title, "b", b_offset=place, b_length=part.length, inside=part.inside
    )


def _between(path: str, a: Reading, b: Reading) -> Iterator[FieldDifference | None]:
    """A row for each value that differs, None for each that is the same."""
    inside = a.inside if a.inside == b.inside else ""
    ours, theirs = _values(a), _values(b)
    for name in dict.fromkeys((*ours, *theirs)):
        left, right = ours.get(name, []), theirs.get(name, [])
        if len(left) > 1 or len(right) > 1:
            left, right, same = _without_equals(left, right)
            yield from repeat(None, same)
        for one, other in zip_longest(left, right):
            equal = one is not None and other is not None and _equal(one.value, other.value)
            yield None if equal else _row(path, one, other, inside)


def _without_equals(left: list[_Value], right: list[_Value]) -> tuple[list[_Value], list[_Value], int]:
    """What is left of two lists of one name without the values that both have, and how many those are."""
    counts = Counter(str(one.value) for one in left) & Counter(str(one.value) for one in right)
    same = counts.total()
    return _drop(left, Counter(counts)), _drop(right, Counter(counts)), same


def _drop(values: list[_Value], counts: Counter[str]) -> list[_Value]:
    kept = []
    for one in values:
        if counts[str(one.value)] > 0:
            counts[str(one.value)] -= 1
        else:
            kept.append(one)
    return kept


@dataclass(frozen=True, slots=True)
class _Deeper:
    """What the parts of a reading say themselves, so that it need not be told twice."""

    ids: bool
    versions: frozenset[tuple[str, str]]
    faults: frozenset[tuple[str, str]]
    dates: frozenset[tuple[str, str]]


def _said_deeper(reading: Reading) -> _Deeper:
    parts = list(reading.parts)
    for part in parts:
        parts.extend(part.parts)  # grows while it is walked: parts of parts too
    return _Deeper(
        any(one.ids for one in parts),
        frozenset((claim.source, claim.value) for one in parts for claim in one.versions),
        frozenset((fault.code, fault.text) for one in parts for fault in one.faults),
        frozenset((claim.source, claim.value) for one in parts for claim in one.dates),
    )


def _equal(one: object, other: object) -> bool:
    """Equal in kind too: True is not 1."""
    return type(one) is type(other) and one == other


def _row(path: str, a: _Value | None, b: _Value | None, inside: str) -> FieldDifference:
    named = a or b
    assert named is not None
    return FieldDifference(
        part=path,
        name=named.name,
        a=a.value if a else None,
        b=b.value if b else None,
        only="" if a and b else "a" if a else "b",
        a_offset=a.offset if a else None,
        b_offset=b.offset if b else None,
        a_length=a.length if a else 0,
        b_length=b.length if b else 0,
        inside=inside,
        meaning=named.meaning,
    )


def _values(reading: Reading) -> dict[str, list[_Value]]:
    """All that a reading says of its own, by name, in an order a person follows. Versions, faults and entries of one
    name may be several.
    """
    made: dict[str, list[_Value]] = {}

    def put(name: str, value: object, offset: int | None = None, length: int = 0, meaning: str = "") -> None:
        made.setdefault(name, []).append(_Value(name, value, offset, length, meaning))

    fields: tuple[Field, ...] = reading.fields
    put("kind", reading.kind)
    if all(one.name != "length" for one in fields):
        put("length", reading.length)
    for one in fields:
        put(one.name, one.value, one.offset, one.length, one.meaning)
    deeper = _said_deeper(reading)
    if reading.ids and not deeper.ids and all(one.name != "device_id" for one in fields):
        put("ids", reading.ids)
    for claim in reading.versions:
        if (claim.source, claim.value) in deeper.versions:
            continue
        length = len(claim.value.encode("utf-8", "replace")) if claim.offset is not None else 0
        put(f"version, {claim.source}", claim.value, claim.offset, length)
    for day in reading.dates:
        if (day.source, day.value) not in deeper.dates:
            put(f"date, {day.source}", day.value, day.offset, 0 if day.offset is None else 1)
    for fault in reading.faults:
        if (fault.code, fault.text) in deeper.faults:
            continue
        put(f"fault {fault.code}", fault.text, fault.offset, 0 if fault.offset is None else 1)
    for note in reading.notes:
        put(f"note {note.code}", note.text, note.offset, 0 if note.offset is None else 1)
    for entry in reading.entries:
        put(f"entry {entry.name or '(no name)'}, {entry.algorithm}", entry.digest)
    for member in reading.members:
        crc = "" if member.crc32 is None else f", CRC-32 {member.crc32:08x}"
        size = "size not said" if member.size is None else f"{member.size} bytes"
        said = "folder" if member.folder else f"{size}{crc}"
        put(f"member {member.name}", f"{said}; {member.fault}" if member.fault else said, member.header_offset)
    return made
