"""A gzip file that unpacks to itself, byte for byte.

DEFLATE (RFC 1951) as a language of two words, each of them five bytes: "print the following n bytes" (a stored block)
and "print the last n bytes again" (a block of fixed codes). That such a program can print itself was shown by Russ Cox
in 2010 ("Zip files all the way down", research.swtch.com; known from memory, the words below are worked out anew).
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable
from functools import partial

WORD = 5


def _print(count: int) -> bytes:
    """A stored block that is not the last: RFC 1951, section 3.2.4."""
    return b"\0" + struct.pack("<HH", count, count ^ 0xFFFF)


def _again(*copies: tuple[int, int, int, int]) -> bytes:
    """A block of fixed codes (3.2.6) of copies: length symbol, distance symbol, its extra bits and their value.

    It takes 38 to 40 bits, so that the next word begins in the byte behind it, or in the last two bits.
    """
    bits: list[int] = [0, 1, 0]
    for length, distance, extra, value in copies:
        bits += [length - 256 >> at & 1 for at in range(6, -1, -1)]
        bits += [distance >> at & 1 for at in range(4, -1, -1)]
        bits += [value >> at & 1 for at in range(extra)]
    bits += [0] * 7  # the end of the block
    assert 38 <= len(bits) <= 8 * WORD
    return sum(bit << at for at, bit in enumerate(bits)).to_bytes(WORD, "little")


def _program(stamp: int, crc: int, size: int) -> bytes:
    head = struct.pack("<3B B I BB", 0x1F, 0x8B, 8, 0, stamp, 0, 255)  # RFC 1952, section 2.3
    print1, print4, print_head = _print(WORD), _print(4 * WORD), _print(len(head) + WORD)
    again4 = _again((264, 8, 3, 3), (264, 8, 3, 3))  # 10 bytes, from 17 + 3 back; twice
    again_head = _again((261, 7, 2, 2), (262, 7, 2, 2))  # 7 bytes and 8 bytes, from 13 + 2 back
    tail = _print(0) + b"\x03\0" + struct.pack("<II", crc, size)  # nothing, and nothing as the last block
    return b"".join(
        (
            head,
            print_head, head, print_head,
            again_head,
            print1, again_head,
            print1, print1,
            print4, again_head, print1, print1, print4,
            again4,
            print4, again4, print4, again4, print4,
            again4,
            print4, again4, tail,
            again4, tail,
        )
    )  # fmt: skip


def gzip_of_itself() -> bytes:
    """The file: its CRC-32 stands in it, so it is found as the solution of linear equations over GF(2)."""
    size = len(_program(0, 0, 0))
    for stamp in range(64):
        crc = _own_crc(partial(_crc_with, stamp, size))
        if crc is not None:
            return _program(stamp, crc, size)
    raise AssertionError("no CRC is its own")


def _crc_with(stamp: int, size: int, crc: int) -> int:
    return zlib.crc32(_program(stamp, crc, size))


def _own_crc(of: Callable[[int], int]) -> int | None:
    """A number that `of` maps to itself; `of` is affine over GF(2), as a CRC is in any bits of its message."""
    base = of(0)
    columns = [of(1 << at) ^ base ^ 1 << at for at in range(32)]
    solved: dict[int, tuple[int, int]] = {}
    for bit in range(32):
        row, right = sum((column >> bit & 1) << at for at, column in enumerate(columns)), base >> bit & 1
        for pivot, (other, value) in solved.items():
            if row >> pivot & 1:
                row, right = row ^ other, right ^ value
        if not row and right:
            return None
        if row:
            pivot = row.bit_length() - 1
            for at, (other, value) in solved.items():
                if other >> pivot & 1:
                    solved[at] = (other ^ row, value ^ right)
            solved[pivot] = (row, right)
    return sum(value << pivot for pivot, (_, value) in solved.items())
