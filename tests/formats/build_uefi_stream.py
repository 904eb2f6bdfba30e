"""UEFI-compressed streams for tests, from the specification (chapter 19); the decoder has no part in it.

`pack` uses the same complete codes for every input and the first match it finds, so its streams are sound and long.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Sequence

WINDOW = 8192
CHARS = [8, 8, *[9] * 508]
"""Lengths of a complete code of all 510 literals and match lengths."""
POSITIONS = [3, 3, *[4] * 12]
"""Of 14 distances: up to 8 KiB."""


class Bits:
    """Bits, the highest of each byte first."""

    def __init__(self, text: str = "") -> None:
        self.text = text.replace(" ", "").replace("\n", "")

    def put(self, value: int, width: int) -> None:
        assert value < 1 << width
        self.text += f"{value:0{width}b}" if width else ""

    def stream(self, size: int, tail: bytes = b"\0") -> bytes:
        """With both sizes before and `tail` behind; the usual compressor ends with a zero byte."""
        body = bytes(int(self.text[at : at + 8].ljust(8, "0"), 2) for at in range(0, len(self.text), 8)) + tail
        return struct.pack("<II", len(body), size) + body


def codes(lengths: Sequence[int]) -> dict[int, str]:
    """The canonical code: each symbol's bits."""
    made: dict[int, str] = {}
    code = 0
    for length in range(1, max(lengths) + 1):
        code <<= 1
        for symbol, one in enumerate(lengths):
            if one == length:
                made[symbol] = f"{code:0{length}b}"
                code += 1
    return made


def matches(data: bytes) -> Iterator[tuple[int, int]]:
    """Literals as (byte, 0), matches as (length, distance)."""
    seen: dict[bytes, int] = {}
    at = 0
    while at < len(data):
        before = seen.get(data[at : at + 3])
        length = 0
        if before is not None and len(data) - at >= 3 and at - before <= WINDOW:
            while length < 256 and at + length < len(data) and data[before + length] == data[at + length]:
                length += 1
        seen[data[at : at + 3]] = at
        if length >= 3:
            yield length, at - before
            at += length
        else:
            yield data[at], 0
            at += 1


def header(bits: Bits, count: int) -> None:
    """A block's header with CHARS and POSITIONS."""
    bits.put(count, 16)
    bits.put(12, 5)  # the code of code lengths: 12 lengths, those of 10 and 11 (for 8 and 9) being 1
    bits.text += "000 000 000 11".replace(" ", "")  # three zeros, and three more by the count
    bits.text += "000" * 4 + "001" * 2
    bits.put(510, 9)
    bits.text += "".join("0" if one == 8 else "1" for one in CHARS)
    bits.put(14, 4)
    bits.text += "".join(f"{one:03b}" for one in POSITIONS)


def pack(data: bytes, block: int = 16_384, tail: bytes = b"\0") -> bytes:
    """`data` packed, `block` symbols at a time."""
    bits = Bits()
    chars, positions = codes(CHARS), codes(POSITIONS)
    symbols = list(matches(data))
    parts: list[str] = []
    for first in range(0, len(symbols), block):
        some = symbols[first : first + block]
        head = Bits()
        header(head, len(some))
        parts.append(head.text)
        for value, distance in some:
            if not distance:
                parts.append(chars[value])
                continue
            parts.append(chars[256 + value - 3])
            width = (distance - 1).bit_length()
            parts.append(positions[width])
            if width > 1:
                parts.append(f"{distance - 1:b}"[1:])
    bits.text = "".join(parts)
    return bits.stream(len(data), tail)
