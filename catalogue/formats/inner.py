"""What lies inside a stretch of a piece, by the same table of readers, and how much of that one piece may cost.

Pieces nest: a package holds a capsule, that a firmware volume, that an option ROM. A hostile one names the same bytes
again and again; so everything read inside one piece shares one budget of bytes and of looks, and one depth.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace

from catalogue.formats.limits import (
    MAX_INNER_BYTES,
    MAX_INNER_DEPTH,
    MAX_INNER_LOOKS,
    MAX_INNER_RATIO,
    MAX_INNER_UNPACKED,
)
from catalogue.formats.shifted import shifted
from catalogue.formats.view import BytesView, PartView, View
from catalogue.shapes.reading import Reading

UNPACKED = "unpacked"


@dataclass(slots=True)
class _Budget:
    """What is left for the piece that is being read."""

    looks: int
    size: int
    unpacked: int
    depth: int = 0


_BUDGET: ContextVar[_Budget | None] = ContextVar("budget of inner readings", default=None)


@contextmanager
def reading(view: View) -> Iterator[None]:
    """Every reader that looks inside does its work within this: the outermost one sets the budget."""
    budget = _BUDGET.get()
    if budget is not None:
        budget.depth += 1
        try:
            yield
        finally:
            budget.depth -= 1
        return
    size = max(MAX_INNER_BYTES, MAX_INNER_RATIO * view.size)
    token = _BUDGET.set(_Budget(MAX_INNER_LOOKS, size, MAX_INNER_UNPACKED))
    try:
        yield
    finally:
        _BUDGET.reset(token)


def allowed(size: int) -> bool:
    """Whether `size` more bytes may be looked at; they are taken off the budget."""
    budget = _BUDGET.get()
    if budget is None:
        return True
    if budget.depth >= MAX_INNER_DEPTH or budget.looks <= 0 or budget.size < size:
        return False
    budget.looks -= 1
    budget.size -= size
    return True


def left_to_unpack() -> int:
    """How many bytes may still be unpacked inside this piece."""
    budget = _BUDGET.get()
    return MAX_INNER_UNPACKED if budget is None else budget.unpacked


def was_unpacked(size: int) -> None:
    """Take `size` unpacked bytes off the budget."""
    budget = _BUDGET.get()
    if budget is not None:
        budget.unpacked -= size
        budget.size += MAX_INNER_RATIO * size


def known_at(view: View, start: int, length: int) -> Reading | None:
    """What the table knows of the `length` bytes at `start`, its offsets counted in `view`.

    None where no reader knows them, or the budget of this piece is spent. Raises nothing but the view's own OSError.
    """
    from catalogue import formats

    if length <= 0 or not allowed(length):
        return None
    found = formats.known(PartView(view, start, length))
    return None if found is None else shifted(found, start)


def known_unpacked(data: bytes) -> Reading | None:
    """What the table knows of bytes that were unpacked from a piece, marked so; None as `known_at`."""
    from catalogue import formats

    if not data or not allowed(len(data)):
        return None
    found = formats.known(BytesView(data))
    return None if found is None else inside(found)


def inside(reading: Reading) -> Reading:
    """A reading of unpacked bytes, marked so with all its parts: they lie a layer deeper than they did."""
    return replace(reading, inside=UNPACKED, layer=reading.layer + 1, parts=tuple(map(inside, reading.parts)))
