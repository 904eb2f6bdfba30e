"""Where the bytes of two contents differ. Any size: what is equal is only compared, a chunk at a time.

Contents of one length are compared place by place. Of two lengths, the longer one is taken to have bytes put in at one
point (or at its end), chosen so that the fewest blocks differ before and after it; whatever else changed is found
around that point. Several insertions at different points are not told apart: what lies between them counts as changed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import accumulate

from catalogue.comparing.bounds import LEAST_GAP, MAX_RANGES
from catalogue.formats.view import View

CHUNK = 1 << 20
BLOCK = 4_096
"""Unit in which the point of an insertion is first sought."""
MOST_BLOCKS = 1 << 18
"""Blocks the point is sought among; of longer contents they are larger."""
CHANCE = 16
"""An equal end shorter than this proves nothing: random bytes agree in one of 256."""

Tick = Callable[[int], None]
"""Told how many bytes of the work are done since the last call; may raise to end it."""


class Changed(Exception):
    """A content gave fewer bytes than it has: it is being changed."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """`a_length` bytes at `a_offset` of A that stand for `b_length` bytes at `b_offset` of B."""

    a_offset: int
    a_length: int
    b_offset: int
    b_length: int


@dataclass(frozen=True, slots=True)
class Found:
    """The stretches that differ, in order, and how many bytes do; those with fewer equal bytes than `joined_within`
    between them are one.
    """

    stretches: tuple[Stretch, ...]
    differing: int
    joined_within: int


def between(a: View, b: View, tick: Tick = lambda count: None) -> Found:
    """The stretches in which `a` and `b` differ. Every byte that differs, or has no counterpart, lies in one.

    Raises Changed, and the views' own OSError.
    """
    if a.size > b.size:
        turned = between(b, a, tick)
        stretches = tuple(Stretch(one.b_offset, one.b_length, one.a_offset, one.a_length) for one in turned.stretches)
        return Found(stretches, turned.differing, turned.joined_within)
    more = b.size - a.size
    if not more:
        runs = _Runs(MAX_RANGES)
        _place_by_place(a, b, 0, a.size, 0, runs, tick)
        return Found(tuple(_stretches(runs, 0)), runs.differing, runs.gap)
    point, begin, end = _point(a, b, tick)
    before, after = _Runs(MAX_RANGES // 2), _Runs(MAX_RANGES // 2)
    _place_by_place(a, b, begin, point, 0, before, tick)
    _place_by_place(a, b, point, end, more, after, tick)
    put_in = Stretch(point, 0, point, more)
    return Found(
        (*_stretches(before, 0), put_in, *_stretches(after, more)),
        before.differing + more + after.differing,
        max(before.gap, after.gap),
    )


class _Runs:
    """Runs of differing bytes in order, as [start, end); near ones joined, so that there are at most `most`."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._runs: list[tuple[int, int]] = []
        self.gap = LEAST_GAP
        self.differing = 0

    def add(self, start: int, end: int) -> None:
        """Add a run behind the last."""
        runs = self._runs
        if runs and start - runs[-1][1] < self.gap:
            runs[-1] = (runs[-1][0], end)
            return
        runs.append((start, end))
        if len(runs) > 2 * self._most:
            self._join()

    def _join(self) -> None:
        while len(self._runs) > self._most:
            self.gap *= 2
            given, self._runs = self._runs, []
            for start, end in given:
                if self._runs and start - self._runs[-1][1] < self.gap:
                    self._runs[-1] = (self._runs[-1][0], end)
                else:
                    self._runs.append((start, end))

    def all(self) -> list[tuple[int, int]]:
        """The runs, at most as many as are allowed."""
        self._join()
        return self._runs


def _stretches(runs: _Runs, shift: int) -> Iterator[Stretch]:
    return (Stretch(start, end - start, start + shift, end - start) for start, end in runs.all())


def _place_by_place(a: View, b: View, start: int, end: int, shift: int, runs: _Runs, tick: Tick) -> None:
    """Compare a[start:end] with the bytes of `b` that lie `shift` later."""
    for at in range(start, end, CHUNK):
        length = min(CHUNK, end - at)
        one, other = _bytes(a, at, length), _bytes(b, at + shift, length)
        if one != other:
            _runs_in(at, one, other, runs)
        tick(length)


def _runs_in(base: int, one: bytes, other: bytes, runs: _Runs) -> None:
    length = len(one)
    crossed = (int.from_bytes(one, "little") ^ int.from_bytes(other, "little")).to_bytes(length, "little")
    runs.differing += length - crossed.count(0)
    at = length - len(crossed.lstrip(b"\0"))
    stop = len(crossed.rstrip(b"\0"))
    for gap in re.compile(rb"\0{%d,}" % min(runs.gap, CHUNK)).finditer(crossed, at, stop):
        runs.add(base + at, base + gap.start())
        at = gap.end()
    runs.add(base + at, base + stop)


def _bytes(view: View, at: int, length: int) -> bytes:
    """Exactly `length` bytes; a view may give fewer at a time."""
    data = view.at(at, length)
    while len(data) < length:
        rest = view.at(at + len(data), length - len(data))
        if not rest:
            raise Changed
        data += rest
    return data


def _point(a: View, b: View, tick: Tick) -> tuple[int, int, int]:
    """Where `b`, the longer one, has bytes put in; and the stretch [begin, end) of `a` outside which all is equal."""
    begin = _equal_from_start(a, b, a.size, tick)
    if begin == a.size:
        return begin, begin, begin
    end = a.size - _equal_from_end(a, b, a.size - begin, tick)
    if end == begin:
        return begin, begin, begin
    if a.size - end < CHANCE:
        end = a.size
    block = max(BLOCK, -(-(end - begin) // MOST_BLOCKS))
    here = _unequal_blocks(a, b, begin, end, block, 0, tick)
    there = _unequal_blocks(a, b, begin, end, block, b.size - a.size, tick)
    rest = sum(there)
    cost = [before + rest - after for before, after in zip(_sums(here), _sums(there), strict=True)]
    best = min(cost)
    last = len(cost) - 1 - cost[::-1].index(best)
    point = min(end, begin + last * block)
    if last and here[last - 1]:
        # The point lies in the block before: go back as far as what follows it agrees.
        length = min(block, point - begin)
        one = _bytes(a, point - length, length)
        other = _bytes(b, point - length + b.size - a.size, length)
        point -= _equal_tail(one, other)
    return point, begin, end


def _sums(flags: bytearray) -> Iterator[int]:
    return accumulate(flags, initial=0)


def _unequal_blocks(a: View, b: View, begin: int, end: int, block: int, shift: int, tick: Tick) -> bytearray:
    """1 for each block of a[begin:end] that differs from the bytes of `b` that lie `shift` later."""
    flags = bytearray()
    step = max(1, CHUNK // block) * block
    for at in range(begin, end, step):
        length = min(step, end - at)
        one, other = _bytes(a, at, length), _bytes(b, at + shift, length)
        if one == other:
            flags += bytes(-(-length // block))
        else:
            flags += bytes(one[i : i + block] != other[i : i + block] for i in range(0, length, block))
        tick(length)
    return flags


def _equal_from_start(a: View, b: View, most: int, tick: Tick) -> int:
    for at in range(0, most, CHUNK):
        length = min(CHUNK, most - at)
        one, other = _bytes(a, at, length), _bytes(b, at, length)
        if one != other:
            crossed = int.from_bytes(one, "big") ^ int.from_bytes(other, "big")
            return at + length - (crossed.bit_length() + 7) // 8
        tick(length)
    return most


def _equal_from_end(a: View, b: View, most: int, tick: Tick) -> int:
    """How many of at most `most` last bytes are equal."""
    done = 0
    while done < most:
        length = min(CHUNK, most - done)
        one, other = _bytes(a, a.size - done - length, length), _bytes(b, b.size - done - length, length)
        if one != other:
            return done + _equal_tail(one, other)
        done += length
        tick(length)
    return most


def _equal_tail(one: bytes, other: bytes) -> int:
    crossed = int.from_bytes(one, "little") ^ int.from_bytes(other, "little")
    return len(one) - (crossed.bit_length() + 7) // 8
