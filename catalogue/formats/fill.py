"""Erased and padded space: runs of FFh or 00h."""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.formats.view import View

_BLOCK = 1 << 20
_TAIL = 1 << 10
_FILL = b"\x00\xff"


@dataclass(frozen=True, slots=True)
class Stretch:
    """What lies in [start, end): fill, the data from `data_start` to `data_end` (equal: none), fill again."""

    start: int
    data_start: int
    data_end: int
    end: int


def used_end(view: View, start: int, end: int) -> int:
    """Where in [start, end) the last byte lies that is neither FFh nor 00h, plus one; `start` where there is none."""
    step = _TAIL
    while end > start:
        block = view.at(max(start, end - step), min(step, end - start))
        rest = len(block.rstrip(_FILL))
        if rest:
            return max(start, end - step) + rest
        end -= len(block)
        step = _BLOCK
    return start


def look(view: View, start: int, end: int) -> Stretch:
    """Where in [start, end) something other than FFh and 00h lies. Raises nothing but the view's own OSError."""
    first = last = end
    for at in range(start, end, _BLOCK):
        block = view.at(at, min(_BLOCK, end - at))
        rest = block.lstrip(_FILL)
        if rest:
            if first == end:
                first = at + len(block) - len(rest)
            last = at + len(block.rstrip(_FILL))
    return Stretch(start, first, last, end)
