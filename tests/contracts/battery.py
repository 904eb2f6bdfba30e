"""What the readers' battery is made of: damaged samples, views that fail or never end, and the bounds of a reading."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator

from catalogue.formats import limits
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import BytesView, View
from catalogue.shapes.reading import TRUST, Reading
from tests.contracts.sample import Sample
from tests.contracts.samples import SAMPLES

MOST_DEPTH = 32
SHORT = 8 << 10
"""Samples up to this size are cut at every byte."""


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
    ranks = [TRUST.index(claim.trust) for claim in reading.versions]
    assert ranks == sorted(ranks) or reading.parts, "the most trusted claims stand first"
    assert len(reading.dates) <= limits.MAX_DATES
    for date in reading.dates:
        assert date.value
        assert date.source
        assert date.offset is None or not packed or 0 <= date.offset < size
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


def mutants(row: Reader, count: int) -> Iterator[bytes]:
    """Damaged samples, the same every time."""
    chance = random.Random(f"{row.name} 2")
    samples = samples_of(row)
    written = [[at for at, byte in enumerate(one.data) if byte] if len(one.data) > SHORT else [] for one in samples]
    for number in range(count):
        sound = samples[number % len(samples)].data
        places = written[number % len(samples)]
        data = bytearray(sound)
        left = chance.choice((1, 1, 1, 2, 3, 8))
        while left > 0 or data == sound:
            _damage(data, chance, places)
            left -= 1
        yield bytes(data)


def prefixes(data: bytes) -> Iterator[int]:
    """Lengths at which a sample is cut: all of a short one, of a longer one those that are not deep inside zeros."""
    for length in range(len(data)):
        if len(data) <= SHORT or length % 512 < 2 or any(data[max(0, length - 16) : length + 2]):
            yield length


def _damage(data: bytearray, chance: random.Random, places: list[int]) -> None:
    if not data:
        data += chance.randbytes(4)
        return
    # Structures stand near the front more often than not; those of a disk image among long stretches of zeros.
    at = chance.randrange(chance.choice((len(data), min(len(data), 64), min(len(data), 512))))
    if places and chance.randrange(8):
        at = min(chance.choice(places), len(data) - 1)
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
