"""Bytes that are nothing: random ones, random ones behind a format's first bytes, and real pieces cut and shuffled."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator

from catalogue import formats
from catalogue.formats.view import BytesView
from tests.contracts.samples import SAMPLES

CLAIMS = re.compile(
    r"option-rom.*|efi-.*|(?:windows|dos|linux)-program|eeprom-image|vpd|capsule|pldm-package|firmware-volume"
)
"""Kinds that chance must not earn: a kit may take such pieces."""
_FIRST = (first for row in formats.READERS for first in row.first)
MAGICS = tuple(dict.fromkeys((*_FIRST, b"\x55\xaa", b"MZ", b"VZ", b"PK")))
_SIZES = (0, 1, 2, 16, 192, 256, 320, 448, 512, 1024, 2048, 4096, 8192, 32768, 65536)


def claimed(data: bytes) -> str:
    """The kind that these bytes are called, if it is one of CLAIMS and no fault but its damage is told; else ""."""
    kind = formats.read(BytesView(data)).kind
    return kind if CLAIMS.fullmatch(kind) else ""


def plain(chance: random.Random, count: int) -> Iterator[bytes]:
    """Random bytes of every length up to 600, again and again, and of usual lengths."""
    for number in range(count):
        yield chance.randbytes(number % 601 if number % 4 else chance.choice(_SIZES))


def behind_magics(chance: random.Random, count: int) -> Iterator[bytes]:
    """Random bytes behind the first bytes of a format; some with few different bytes, some mostly one fill."""
    for number in range(count):
        size = chance.choice(_SIZES) if number % 3 else chance.randrange(601)
        body = bytearray(chance.randbytes(size))
        if number % 5 == 1:
            body = bytearray(chance.choices(chance.randbytes(4), k=size))
        elif number % 5 == 2:
            body = bytearray(chance.choice((b"\0", b"\xff")) * size)
            for _ in range(size // 16):
                body[chance.randrange(size)] = chance.randrange(256)
        yield MAGICS[number % len(MAGICS)] + bytes(body)


def shuffled(chance: random.Random, count: int, pieces: tuple[bytes, ...] = ()) -> Iterator[bytes]:
    """Real pieces with their blocks in another order and another block first, and pieces without their beginning."""
    whole = tuple(one for one in (pieces or tuple(one.data for one in SAMPLES)) if len(one) >= 96)
    for number in range(count):
        data = whole[number % len(whole)]
        if number % 2:
            yield data[chance.randrange(8, len(data) - 8) | 1 :]
            continue
        step = chance.choice((16, 32, 48))
        first, *rest = (data[at : at + step] for at in range(0, len(data), step))
        chance.shuffle(rest)
        yield b"".join((rest[0], first, *rest[1:]))
