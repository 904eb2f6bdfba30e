"""A reading made of a stretch of a piece, with its offsets counted in the whole piece."""

from __future__ import annotations

from dataclasses import replace

from catalogue.shapes.reading import Fault, Field, Reading, Span


def shifted(reading: Reading, by: int) -> Reading:
    """`reading` with `by` bytes added to every offset of it and of its parts, but for parts that lie unpacked."""
    if by == 0 or reading.inside == "unpacked":
        return reading
    return replace(
        reading,
        offset=reading.offset + by,
        fields=tuple(_field(one, by) for one in reading.fields),
        parts=tuple(shifted(part, by) for part in reading.parts),
        versions=tuple(one if one.offset is None else replace(one, offset=one.offset + by) for one in reading.versions),
        faults=_moved(reading.faults, by),
        notes=_moved(reading.notes, by),
        dates=tuple(one if one.offset is None else replace(one, offset=one.offset + by) for one in reading.dates),
        spans=tuple(Span(one.name, one.offset + by, one.length) for one in reading.spans),
    )


def _field(one: Field, by: int) -> Field:
    # Written out: `replace` takes twice as long, and every option ROM's driver comes through here.
    if one.offset is None:
        return one
    return Field(one.name, one.value, one.offset + by, one.length, one.meaning, one.source)


def _moved(faults: tuple[Fault, ...], by: int) -> tuple[Fault, ...]:
    return tuple(one if one.offset is None else replace(one, offset=one.offset + by) for one in faults)
