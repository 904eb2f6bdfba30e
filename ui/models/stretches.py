"""What lies where in a piece or in one part of it: stretches from its first byte to its last, for the ruler."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ui.models.ways import Way, extent, same_bytes

if TYPE_CHECKING:
    from catalogue.shapes.reading import Reading, Span

EMPTY_WORDS = ("padding", "unused", "not described", "not read", "fill", "blank", "free space")
MOST_STRETCHES = 2_000


@dataclass(frozen=True, slots=True)
class Stretch:
    """`way` leads to the part that lies just there, `inner` are the stretches inside it: offset, length, empty."""

    name: str
    offset: int
    length: int
    way: Way | None = None
    inner: tuple[tuple[int, int, bool], ...] = ()

    @property
    def empty(self) -> bool:
        """Whether nothing that counts lies there."""
        return is_empty(self.name)


def is_empty(name: str) -> bool:
    """Whether a stretch of that name is space in which nothing lies."""
    said = name.lower()
    return any(word in said for word in EMPTY_WORDS)


def stretches_of(reading: Reading, start: int, end: int, way: Way = ()) -> list[Stretch]:
    """The stretches of [start, end) that `reading` tells of, without holes and without overlap."""
    parts = {extent(part): (position, part) for position, part in reversed(same_bytes(reading))}
    given: list[Stretch] = []
    if reading.spans:
        spans = sorted(reading.spans, key=lambda one: (one.offset, -one.length))
        for span in spans[: MOST_STRETCHES + 1]:
            first, last = span.offset, span.offset + span.length
            at = (parts.get((first, last)) or _alone(parts, first, last)) if parts else None
            given.append(_stretch(span.name, first, span.length, way, at))
    else:
        for (first, last), at in parts.items():
            given.append(_stretch(at[1].title or at[1].kind, first, last - first, way, at))
    made: list[Stretch] = []
    at_byte = start
    rest = "not described" if len(given) <= MOST_STRETCHES else "more than is drawn here"
    for one in sorted(given, key=lambda one: (one.offset, -one.length))[:MOST_STRETCHES]:
        first, last = max(one.offset, at_byte), min(one.offset + one.length, end)
        if first >= last:
            continue
        if first > at_byte:
            made.append(Stretch("not described", at_byte, first - at_byte))
        made.append(Stretch(one.name, first, last - first, one.way, one.inner))
        at_byte = last
    if at_byte < end:
        made.append(Stretch(rest if made else "all of this part" if way else "the whole piece", at_byte, end - at_byte))
    return made


def _alone(parts: dict[tuple[int, int], tuple[int, Reading]], first: int, last: int) -> tuple[int, Reading] | None:
    """The part that begins at `first`, or the one that lies in [first, last) if there is just one."""
    found = [at for (start, end), at in parts.items() if start == first]
    found = found or [at for (start, end), at in parts.items() if first <= start < end <= last]
    return found[0] if len(found) == 1 else None


def _stretch(name: str, offset: int, length: int, way: Way, at: tuple[int, Reading] | None) -> Stretch:
    if at is None:
        return Stretch(name, offset, length)
    position, part = at
    return Stretch(name, offset, length, (*way, position), _inner(part))


def _inner(part: Reading) -> tuple[tuple[int, int, bool], ...]:
    spans: list[Span] = list(part.spans[:MOST_STRETCHES])
    if spans:
        return tuple((one.offset, one.length, is_empty(one.name)) for one in spans) if len(spans) > 1 else ()
    return tuple((first, last - first, False) for first, last in (extent(one) for _, one in same_bytes(part)))
