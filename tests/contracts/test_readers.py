"""The battery that every row of the readers' table passes. It calls each reader itself: no guard hides an exception."""

from __future__ import annotations

import importlib
import pkgutil
import time

import pytest

from catalogue import formats
from catalogue.formats.reader import Reader
from catalogue.formats.view import BytesView
from tests.contracts.battery import CountingView, EnormousView, FailingView, mutants, prefixes, read, samples_of
from tests.contracts.samples import SAMPLES

MUTATIONS = 2_000
"""A reader; its samples share them."""
MOST_SAMPLE = 64 << 10
ROWS = pytest.mark.parametrize("row", formats.READERS, ids=lambda row: row.name)


def test_the_table_is_the_folder():
    """Every module of the room that defines a READER has its row, once, and no row comes from elsewhere."""
    found = {}
    for module in pkgutil.iter_modules(formats.__path__):
        reader = getattr(importlib.import_module(f"catalogue.formats.{module.name}"), "READER", None)
        if reader is not None:
            found[reader.name] = reader
    assert found == {row.name: row for row in formats.READERS}
    assert len(found) == len(formats.READERS)


def test_every_sample_names_a_row():
    assert {one.reader for one in SAMPLES} <= {row.name for row in formats.READERS}
    assert all(len(one.data) <= MOST_SAMPLE for one in SAMPLES)


@ROWS
def test_a_row_is_filled_in(row: Reader):
    assert row.version >= 1
    assert row.source
    assert row.depth
    assert row.kinds


@ROWS
def test_samples_are_read(row: Reader):
    """Each row has samples; its reader gives them the kind they are, and so does the whole table."""
    samples = samples_of(row)
    assert samples
    for one in samples:
        reading = read(row, BytesView(one.data))
        assert reading is not None, one
        assert reading.kind == one.kind, one
        assert read(row, BytesView(one.data)) == reading, one
        assert formats.read(BytesView(one.data)).format == row.name, one


@ROWS
def test_prefixes(row: Reader):
    for one in samples_of(row):
        for length in prefixes(one.data):
            read(row, BytesView(one.data[:length]))


@ROWS
def test_mutations(row: Reader):
    for data in mutants(row, MUTATIONS):
        read(row, BytesView(data))


@ROWS
@pytest.mark.parametrize("size", [0, 1, 2, 3, 511, 512, 513, 4096, 0x8800, 0x11800])
@pytest.mark.parametrize("fill", [0x00, 0xFF])
def test_blank(row: Reader, size: int, fill: int):
    read(row, BytesView(bytes([fill]) * size))


@ROWS
def test_foreign_samples(row: Reader):
    for one in SAMPLES:
        read(row, BytesView(one.data))


@ROWS
def test_failing_view(row: Reader):
    """A view that fails at its n-th read: that very OSError comes out, nothing else, and nothing is swallowed."""
    for one in samples_of(row):
        count = 1
        while True:
            view = FailingView(one.data, count)
            try:
                read(row, view)
            except OSError as error:
                assert error is view.error
            else:
                assert view.left > 0, "the reader swallowed the world's error"
                break
            count += 1
        assert count > 1, "the reader read nothing"


@ROWS
def test_few_bytes_are_asked_for(row: Reader):
    """A piece is looked through a bounded number of times, whatever it holds."""
    for data in mutants(row, 200):
        view = CountingView(data)
        started = time.perf_counter()
        read(row, view)
        assert time.perf_counter() - started < 5
        assert view.given <= 100 * len(data) + (1 << 16)


@ROWS
@pytest.mark.parametrize("tail", ["zero", "again"])
def test_enormous(row: Reader, tail: str):
    """A terabyte that begins like a sample takes bounded bytes and time."""
    for one in samples_of(row)[:3]:
        view = EnormousView(one.data, 1 << 40, tail == "again")
        started = time.perf_counter()
        read(row, view)
        assert time.perf_counter() - started < 20
        assert view.given <= 512 << 20
