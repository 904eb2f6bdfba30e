"""What differs between two pieces, as rows for a long list: a heading a part, a row a value, a range, a member."""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.shapes.comparison import Comparison, FieldDifference, MemberDifference, RangeDifference, Where
from catalogue.shapes.reading import Field, SignedBy
from ui import text
from ui.models.long_rows import LongRow

MOST_BYTES = 16
"""Bytes of a range that a row shows; its foot shows all that were fetched."""
LOST = "not in it"


@dataclass(frozen=True, slots=True)
class Difference:
    """One row: what it is of, and what stands there in A and in B, whole.

    `a_bytes` and `b_bytes` are the offset and the count of the bytes it stands in; None where it stands in none.
    """

    name: str
    a: str
    b: str
    mark: str = ""
    a_bytes: tuple[int, int] | None = None
    b_bytes: tuple[int, int] | None = None


def made(one: Difference) -> LongRow:
    """The row as the list draws it."""
    return LongRow(text.plain(one.name, 300), f"A: {text.plain(one.a, 300)}   B: {text.plain(one.b, 300)}", one.mark)


def rows_of(done: Comparison) -> list[Difference]:
    """Every difference that was told, members first, then values part by part, then bytes."""
    return [*map(_member, done.members), *map(_field, done.fields), *map(_range, done.ranges)]


def summary(done: Comparison) -> str:
    """What came of it, in a sentence or two."""
    if done.same:
        return "Nothing differs: every byte is the same."
    said: list[str] = [text.plain(one, 200) for one in done.notes]
    if done.members_same is not None:
        differing = len(done.members) + done.members_left_out
        said.append(f"{text.begun(text.count(differing, 'member'))} differ; {done.members_same:,} agree.")
    values = len(done.fields) + done.fields_left_out
    said.append(f"{text.begun(text.count(values, 'value'))} that were read differ; {done.fields_same:,} agree.")
    if done.ranges:
        said.append(
            f"{text.size(done.bytes_differing)} {'differs' if done.bytes_differing == 1 else 'differ'}, "
            f"in {text.count(len(done.ranges), 'stretch', 'stretches')}."
        )
    left = done.fields_left_out + done.members_left_out
    if left:
        said.append(f"{left:,} differences more than can be listed are left out.")
    if done.layout:
        said.append(f"Both were read by {text.plain(done.layout, 120)}.")
    return " ".join(said)


def _where(part: str) -> str:
    return "" if part == "piece" else f", in {text.plain(part, 160)}"


def _field(one: FieldDifference) -> Difference:
    name = f"{text.begun(text.name_of(one.name))}{_where(one.part)}"
    if one.name == "part":
        name = f"A part{_where(one.part)}"
    a = LOST if one.only == "b" else _value(one.name, one.a)
    b = LOST if one.only == "a" else _value(one.name, one.b)
    return Difference(
        name,
        a,
        b,
        "caution" if one.name.startswith("fault ") else "",
        None if one.inside or one.a_offset is None or not one.a_length else (one.a_offset, one.a_length),
        None if one.inside or one.b_offset is None or not one.b_length else (one.b_offset, one.b_length),
    )


def _value(name: str, value: object) -> str:
    if value is None or isinstance(value, bool | int | str):
        return text.value(Field(name, value))
    if isinstance(value, tuple):
        if all(isinstance(one, int | str | SignedBy) for one in value):
            return text.value(Field(name, value))
        return ", ".join(text.plain(str(one), 120) for one in value[:24])
    return text.plain(str(value), 400)


def _range(one: RangeDifference) -> Difference:
    at = f"Bytes at {text.offset(one.offset)}"
    if one.b_offset != one.offset:
        at += f" of A, {text.offset(one.b_offset)} of B"
    return Difference(
        f"{at}{_places(one.where)}",
        _bytes(one.a, one.a_length),
        _bytes(one.b, one.b_length),
        a_bytes=(one.offset, one.a_length) if one.a_length else None,
        b_bytes=(one.b_offset, one.b_length) if one.b_length else None,
    )


def _places(where: tuple[Where, ...]) -> str:
    names = [f"{text.name_of(one.name) or 'no field'}{_where(one.part)}" for one in where[:4]]
    return f": {'; '.join(names)}" if names else ""


def _bytes(given: str, length: int) -> str:
    if not length:
        return LOST
    shown = " ".join(given[at : at + 2] for at in range(0, min(len(given), 2 * MOST_BYTES), 2)).upper()
    return f"{shown} … ({text.size(length)})" if length > MOST_BYTES else shown


def _member(one: MemberDifference) -> Difference:
    a = f"{text.size(one.a_size)}, SHA-256 {text.short_hash(one.a)}" if one.a else LOST
    b = f"{text.size(one.b_size)}, SHA-256 {text.short_hash(one.b)}" if one.b else LOST
    if one.state == "moved":
        a = f"the same bytes, called {text.plain(one.was, 200)}"
    if one.state == "unreadable":
        return Difference(f"Member {one.name}, which could not be compared", one.why, "", "caution")
    return Difference(f"Member {one.name}", a, b)
