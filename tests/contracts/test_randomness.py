"""Nothing random is called a ROM, an EEPROM image or a program, or any other piece that a kit may take.

Two magic bytes come by chance once in 65,536 files; what each reader demands beyond them must make that harmless. The
samples are the same every time; `python -m tests.fuzz.randomness` tries for as long as one likes.
"""

from __future__ import annotations

import random

import pytest

from catalogue import formats
from catalogue.formats import eeprom_image
from catalogue.shapes.layout import Layout
from tests.contracts import randomness

COUNT = 12_000


def test_random_bytes_are_nothing():
    for data in randomness.plain(random.Random("plain 1"), COUNT):
        assert not randomness.claimed(data), data[:64].hex()


def test_random_bytes_behind_a_magic_are_nothing():
    """A magic is a hint. Of these many at most one in some thousands could pass; with these seeds none does."""
    for data in randomness.behind_magics(random.Random("magics 1"), COUNT):
        assert not randomness.claimed(data), data[:64].hex()


def test_shuffled_and_beheaded_pieces_are_nothing():
    for data in randomness.shuffled(random.Random("shuffled 1"), COUNT // 2):
        kind = randomness.claimed(data)
        assert not kind or data.startswith(randomness.MAGICS), (kind, data[:64].hex())


def test_every_two_bytes_at_the_beginning():
    """Each of the 65,536 beginnings before the same noise: nothing rests on two bytes."""
    noise = random.Random("noise 1").randbytes(600)
    for first in range(0, 1 << 16, 3):
        assert not randomness.claimed(first.to_bytes(2, "big") + noise), first


def test_no_row_answers_with_an_eeprom_image():
    assert all(eeprom_image.KIND not in row.kinds for row in formats.READERS)


@pytest.mark.parametrize("size", [192, 256, 320, 448])
def test_random_bytes_are_no_eeprom_image(size: int):
    """By a family's layout alone, and never by size: a magic of four bytes stands in none of these."""
    layout = Layout("x", size, 0, bytes.fromhex("C01208A5"), (), None)
    chance = random.Random(size)
    for _ in range(20_000):
        assert eeprom_image.answer(chance.randbytes(size), layout).state == "other"
