"""The way to a part of a reading: positions among `parts`, from the outside in; () is the whole piece."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from catalogue.shapes.reading import Reading

Way = tuple[int, ...]


def part_at(whole: Reading, way: Way) -> Reading:
    """The part at the end of the way. Raises IndexError where there is none."""
    for position in way:
        whole = whole.parts[position]
    return whole


def layer_way(whole: Reading, way: Way) -> Way:
    """The way to the part where the unpacked bytes begin that `way` leads into; () for the piece's own bytes."""
    found: Way = ()
    parent = whole
    for depth, position in enumerate(way, 1):
        part = parent.parts[position]
        if part.layer > parent.layer:
            found = way[:depth]
        parent = part
    return found


def extent(part: Reading) -> tuple[int, int]:
    """The stretch [start, end) that a part covers; of one that gives no length, as far as its fields go."""
    if part.length > 0:
        return part.offset, part.offset + part.length
    ends = [one.offset + one.length for one in part.fields if one.offset is not None]
    return part.offset, max([part.offset, *ends])


def same_bytes(parent: Reading) -> list[tuple[int, Reading]]:
    """The parts whose offsets count in the same bytes as their parent's, with their positions."""
    return [(at, part) for at, part in enumerate(parent.parts) if part.layer == parent.layer]
