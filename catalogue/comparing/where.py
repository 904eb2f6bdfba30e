"""In which fields of a reading a stretch of bytes lies."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from itertools import accumulate, zip_longest

from catalogue.comparing.bounds import MAX_WHERE
from catalogue.comparing.pairs import WHOLE
from catalogue.shapes.comparison import Where
from catalogue.shapes.reading import Field, Reading

MOST_LOOKED_AT = 4_096
"""Fields looked at for one stretch."""


class Places:
    """The fields of a piece by where they lie. Fields that hold other fields of their part (a sum over the whole) name
    no place; where no field lies, the narrowest part, or its stretch on the ruler, is named.
    """

    def __init__(self, parts: Iterable[tuple[str, Reading]]) -> None:
        """`parts` are the readings of the piece with their paths, outermost first."""
        fields: list[tuple[int, int, str, str]] = []
        grounds: list[tuple[int, int, str, str]] = []
        for path, reading in parts:
            if reading.inside:
                continue
            if reading.length or path == WHOLE:
                grounds.append((reading.offset, reading.offset + reading.length, path, ""))
            grounds += [(at, end, path, "" if path.endswith(name) else name) for at, end, name in _spans(reading)]
            fields += [(at, end, path, one.name) for at, end, one in _narrow(reading.fields)]
        self._fields = sorted(fields, key=lambda one: (one[0], one[1]))
        self._starts = [one[0] for one in self._fields]
        self._furthest = list(accumulate((one[1] for one in self._fields), max))
        self._grounds = grounds
        self._edges = sorted({edge for one in grounds for edge in one[:2]})
        self._known: dict[int, Where] = {}

    def of(self, offset: int, length: int) -> tuple[Where, ...]:
        """The fields that `length` bytes from `offset` lie in, in order, MAX_WHERE at most; else the part."""
        end = offset + max(1, length)
        last = bisect_left(self._starts, end)
        first = bisect_right(self._furthest, offset, 0, last)
        named: dict[Where, None] = {}
        covered = offset
        for at, stop, path, name in self._fields[first : min(last, first + MOST_LOOKED_AT)]:
            if stop <= offset:
                continue
            if at > covered:
                named[self._ground(covered)] = None
            named[Where(path, name)] = None
            covered = max(covered, stop)
            if len(named) >= MAX_WHERE:
                break
        if covered < end and len(named) < MAX_WHERE:
            named[self._ground(covered)] = None
        return tuple(named)[:MAX_WHERE]

    def _ground(self, at: int) -> Where:
        """The narrowest part or stretch that holds byte `at`; of equal ones the innermost."""
        step = bisect_right(self._edges, at)
        if step not in self._known:
            holding = [one for one in self._grounds if one[0] <= at < one[1]]
            best = min(reversed(holding), key=lambda one: one[1] - one[0], default=None)
            self._known[step] = Where(best[2], best[3]) if best else Where(WHOLE, "")
        return self._known[step]


def _spans(reading: Reading) -> list[tuple[int, int, str]]:
    return [(one.offset, one.offset + one.length, one.name) for one in reading.spans if one.length]


def _narrow(fields: Iterable[Field]) -> list[tuple[int, int, Field]]:
    """Fields with bytes that hold no other field of theirs."""
    placed = [(one.offset, one.offset + one.length, one) for one in fields if one.offset is not None and one.length]
    placed.sort(key=lambda one: (one[0], -one[1]))
    return [
        one
        for one, after in zip_longest(placed, placed[1:])
        if after is None or not (after[1] <= one[1] and (after[0], after[1]) != (one[0], one[1]))
    ]
