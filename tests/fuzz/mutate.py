"""Damaged inputs made from seeds, the same every time: the blind half of fuzzing, which needs no library.

Besides flips, cuts and insertions: numbers at field widths set to what bounds are tripped by, stretches copied from
other seeds, and the whole nested in itself.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence

EDGES = (0, 1, 2, 0x7F, 0x80, 0xFF, 0x7FFF, 0x8000, 0xFFFF, 0xFF_FFFF, 0x7FFF_FFFF, 0x8000_0000, 0xFFFF_FFFF, 1 << 63)
TEXTS = (b"..", b"../", b"..\\", b"C:", b"\0", b"\n", b"\r\n", b"\x1b[2J", "\u202e".encode(), b"\xff\xfe", b"9" * 40)
MOST = 1 << 20
"""Bytes of a damaged input."""


def damaged(seeds: Sequence[bytes], chance: random.Random) -> Iterator[bytes]:
    """Endlessly many damaged inputs; at times one that was just made is damaged again."""
    last = b""
    while True:
        data = bytearray(last if last and chance.random() < 0.25 else chance.choice(seeds))
        for _ in range(chance.choice((1, 1, 1, 2, 2, 3, 5, 9))):
            _damage(data, seeds, chance)
        last = bytes(data[:MOST])
        yield last


def _damage(data: bytearray, seeds: Sequence[bytes], chance: random.Random) -> None:
    if not data:
        data += chance.randbytes(chance.randrange(1, 40))
        return
    # Structures stand at the front or, in archives and suffixes, at the end.
    reach = chance.choice((len(data), len(data), 64, 512))
    at = chance.randrange(min(len(data), reach))
    if chance.random() < 0.2:
        at = len(data) - 1 - at
    kind = chance.randrange(10)
    if kind == 0:
        data[at] ^= 1 << chance.randrange(8)
    elif kind == 1:
        data[at] = chance.choice((0, 1, 0x7F, 0x80, 0xFF, chance.randrange(256)))
    elif kind in (2, 3):
        width = chance.choice((1, 2, 3, 4, 8))
        value = chance.choice((*EDGES, len(data), len(data) - at, at, chance.randrange(1 << 16)))
        order = "big" if chance.random() < 0.4 else "little"
        data[at : at + width] = (value % (1 << 8 * width)).to_bytes(width, order)[: len(data) - at]
    elif kind == 4:
        del data[at : at + chance.choice((1, 2, 4, chance.randrange(1, 600)))]
    elif kind == 5:
        data[at:at] = chance.choice(TEXTS) if chance.random() < 0.5 else chance.randbytes(chance.randrange(1, 64))
    elif kind == 6:
        length = chance.choice((4, 16, 600))
        data[at : at + length] = chance.choice((b"\0", b"\xff")) * min(length, len(data) - at)
    elif kind == 7:
        source = chance.randrange(len(data))
        piece = data[source : source + chance.choice((2, 4, 8, 64, 4096))]
        data[at : at + (len(piece) if chance.random() < 0.5 else 0)] = piece
    elif kind == 8:
        other = chance.choice(seeds)
        source = chance.randrange(len(other) or 1)
        data[at:at] = other[source : source + chance.randrange(1, 1024)]
    else:
        piece = bytes(data[at : at + chance.randrange(1, 64)])
        data[at:at] = piece * chance.choice((2, 16, 256))
