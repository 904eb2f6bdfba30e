"""A watch on time and memory: no reader takes more than 1 s a MiB, nor holds much more than what it reads.

Bounds are ratios to a plain loop measured beside them, with room for a busy machine; what is reached today is a third
of them at most.
"""

from __future__ import annotations

import pytest

from catalogue import formats
from catalogue.formats.reader import Reader
from catalogue.formats.view import BytesView
from tests.contracts import costs
from tests.contracts.battery import mutants, read, samples_of

UNITS_SHORT = 5.0
"""For a sample or a damaged one, 64 KiB at most: 0.2 s."""
UNITS_LONG = 12.5
"""For half a MiB: 0.5 s."""
PEAK_SHORT = 24 << 20
PEAK_LONG = 64 << 20
"""Bytes held at the worst for either."""
DAMAGED, MOST_SAMPLES = 60, 5
ROWS = pytest.mark.parametrize("row", formats.READERS, ids=lambda row: row.name)


@ROWS
def test_short_pieces(row: Reader):
    for data in (*(one.data for one in samples_of(row)), *mutants(row, DAMAGED)):
        assert costs.units(lambda data=data: read(row, BytesView(data)), UNITS_SHORT) <= UNITS_SHORT
        assert costs.peak(lambda data=data: row.read(BytesView(data))) <= PEAK_SHORT


@ROWS
def test_samples_drawn_out(row: Reader):
    for one in samples_of(row)[:MOST_SAMPLES]:
        for how, data in costs.stretched(one.data):
            took = costs.units(lambda data=data: read(row, BytesView(data)), UNITS_LONG)
            assert took <= UNITS_LONG, f"{one}, {how}"
    how, data = next(costs.stretched(samples_of(row)[0].data))
    assert costs.peak(lambda: read(row, BytesView(data))) <= PEAK_LONG, how


def test_what_costs_too_much_is_caught():
    def grows(data: bytes) -> int:
        return sum(data[at:].count(b"\0\1") for at in range(0, len(data), 8))

    assert costs.units(lambda: grows(bytes(1 << 16)), 1, tries=2) > 1
    assert costs.peak(lambda: bytes(PEAK_LONG + 1)) > PEAK_LONG
    assert costs.peak(lambda: bytes(1 << 10)) < 1 << 20


def test_drawn_out_pieces_are_so_long_and_begin_the_same():
    for _, data in costs.stretched(b"abc" * 9, 1000):
        assert len(data) == 1000
        assert data.startswith(b"abc" * 9)
