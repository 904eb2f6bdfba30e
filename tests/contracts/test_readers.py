"""The battery that every row of the readers' table passes. It calls each reader itself: no guard hides an exception."""

from __future__ import annotations

import importlib
import pkgutil
import random
import re
import time
from collections.abc import Iterator

import pytest

from catalogue import formats
from catalogue.formats import limits
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import BytesView, View
from catalogue.shapes.reading import Reading
from tests.contracts.sample import Sample
from tests.contracts.samples import SAMPLES

MUTATIONS = 2_000
"""A reader; its samples share them."""
MOST_SAMPLE = 8 << 10
MOST_DEPTH = 6
ROWS = pytest.mark.parametrize("row", formats.READERS, ids=lambda row: row.name)


def samples_of(row: Reader) -> list[Sample]:
    return [one for one in SAMPLES if one.reader == row.name]


def read(row: Reader, view: View) -> Reading | None:
    """What `formats.read` does for one row: look, then read. Every answer is examined."""
    if row.looks_like(view) is Looks.NO:
        return None
    reading = row.read(view)
    if reading is not None:
        assert reading.format == row.name
        assert reading.kind in row.kinds
        assert (reading.offset, reading.length) == (0, view.size)
        examine(reading, view.size)
    return reading


def examine(reading: Reading, size: int, depth: int = 0) -> None:
    """The bounds of `limits`, and what the shapes promise, in a reading and its parts."""
    assert depth <= MOST_DEPTH
    assert len(reading.fields) <= limits.MAX_FIELDS
    assert len(reading.parts) <= limits.MAX_PARTS
    assert len(reading.versions) <= limits.MAX_STRINGS
    assert len(reading.entries) <= limits.MAX_LIST_ENTRIES
    assert len(reading.members) <= limits.MAX_MEMBERS
    assert len({one.name for one in reading.fields}) == len(reading.fields), "a field's name stands twice"
    assert reading.title
    assert reading.inside in ("", "unpacked")
    packed = reading.inside == ""
    if packed:
        assert 0 <= reading.offset <= size
        assert reading.length >= 0
    for one in reading.fields:
        assert re.fullmatch(r"[A-Za-z0-9_]+", one.name), one.name
        assert not isinstance(one.value, str) or len(one.value) <= limits.MAX_TEXT
        assert not isinstance(one.value, tuple) or len(one.value) <= limits.MAX_DEVICES
        assert one.offset is None or not packed or 0 <= one.offset <= one.offset + one.length <= size, one
    for claim in reading.versions:
        assert claim.value
        assert claim.source
        assert len(claim.value) <= limits.MAX_TEXT
        assert claim.offset is None or not packed or 0 <= claim.offset < size
    for fault in (*reading.faults, *reading.notes):
        assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", fault.code), fault.code
        assert fault.text.strip()
        assert fault.offset is None or not packed or 0 <= fault.offset <= size
    for span in reading.spans:
        assert span.name
        assert span.length >= 0
        assert not packed or 0 <= span.offset <= span.offset + span.length <= size, span
    for card in reading.ids:
        assert len(card.devices) <= limits.MAX_DEVICES
    for part in reading.parts:
        examine(part, size, depth + 1)


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
        for length in range(len(one.data)):
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
    for one in samples_of(row):
        view = EnormousView(one.data, 1 << 40, tail == "again")
        started = time.perf_counter()
        read(row, view)
        assert time.perf_counter() - started < 20
        assert view.given <= 512 << 20


def mutants(row: Reader, count: int) -> Iterator[bytes]:
    """Damaged samples, the same every time."""
    chance = random.Random(f"{row.name} 2")
    samples = samples_of(row)
    for number in range(count):
        data = bytearray(samples[number % len(samples)].data)
        for _ in range(chance.choice((1, 1, 1, 2, 3, 8))):
            _damage(data, chance)
        yield bytes(data)


def _damage(data: bytearray, chance: random.Random) -> None:
    if not data:
        data += chance.randbytes(4)
        return
    # Structures stand near the front more often than not.
    at = chance.randrange(chance.choice((len(data), min(len(data), 64), min(len(data), 512))))
    kind = chance.randrange(8)
    if kind == 0:
        data[at] ^= 1 << chance.randrange(8)
    elif kind == 1:
        data[at] = chance.choice((0x00, 0x01, 0x7F, 0x80, 0xFF, chance.randrange(256)))
    elif kind in (2, 3):
        width = 2 if kind == 2 else 4
        edges = (0, 1, 1 << (8 * width - 1), (1 << 8 * width) - 1)
        value = chance.choice((*edges, len(data), at, chance.randrange(1 << 16)))
        data[at : at + width] = value.to_bytes(width, chance.choice(("little", "big")))[: len(data) - at]
    elif kind == 4:
        del data[at : at + chance.randrange(1, 64)]
    elif kind == 5:
        data[at:at] = chance.randbytes(chance.randrange(1, 64))
    elif kind == 6:
        length = chance.randrange(1, 600)
        data[at : at + length] = chance.choice((b"\0", b"\xff")) * length
    else:
        source = chance.randrange(len(data))
        piece = data[source : source + chance.randrange(1, 128)]
        data[at : at + len(piece)] = piece


class FailingView:
    """Bytes whose n-th read fails, as on a medium that is pulled out."""

    def __init__(self, data: bytes, nth: int) -> None:
        self.under = BytesView(data)
        self.size = self.under.size
        self.left = nth
        self.error = OSError(5, "the medium is gone")

    def at(self, offset: int, length: int) -> bytes:
        self.left -= 1
        if self.left <= 0:
            raise self.error
        return self.under.at(offset, length)


class CountingView:
    """Bytes that count how many of them are handed out."""

    def __init__(self, data: bytes) -> None:
        self.under = BytesView(data)
        self.size = self.under.size
        self.given = 0

    def at(self, offset: int, length: int) -> bytes:
        answer = self.under.at(offset, length)
        self.given += len(answer)
        return answer


class EnormousView:
    """`size` bytes: a sample, then nothing but zeros, or the sample again and again."""

    def __init__(self, data: bytes, size: int, again: bool) -> None:
        self.data = data
        self.size = size
        self.again = again
        self.given = 0

    def at(self, offset: int, length: int) -> bytes:
        if offset < 0 or length <= 0 or offset >= self.size:
            return b""
        length = min(length, self.size - offset)
        assert length <= 256 << 20, "more than any memory should hold at once"
        self.given += length
        if not self.again:
            return self.data[offset : offset + length].ljust(length, b"\0")
        skip = offset % len(self.data)
        return (self.data * (length // len(self.data) + 2))[skip : skip + length]
