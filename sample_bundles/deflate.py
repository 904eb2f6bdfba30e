"""A small DEFLATE packer (RFC 1951) with fixed Huffman codes.

Python's own packs through whatever zlib the system brings, and their output differs; the demo's zips must not.
"""

from __future__ import annotations

_WINDOW = 32_768  # RFC 1951, 2
_LONGEST = 258  # RFC 1951, 3.2.5
_SHORTEST = 4  # of our own choice: three-byte matches seldom pay with fixed codes


def _tables(base: int, extras: tuple[int, ...]) -> list[tuple[int, int]]:
    rows = []
    for extra in extras:
        rows.append((base, extra))
        base += 1 << extra
    return rows


# RFC 1951, 3.2.5: first length of each code from 257, first distance of each code from 0, and their extra bits.
_LENGTHS = _tables(3, (0,) * 8 + (1,) * 4 + (2,) * 4 + (3,) * 4 + (4,) * 4 + (5,) * 4)
_LENGTHS[-1] = (_LENGTHS[-1][0], 5)
_DISTANCES = _tables(1, (0, 0, 0, 0, *(bits for bits in range(1, 14) for _ in range(2))))


def _reversed(code: int, bits: int) -> int:
    return int(format(code, f"0{bits}b")[::-1], 2)


def _symbol(value: int) -> tuple[int, int]:
    """Code and bits of a literal or length symbol (RFC 1951, 3.2.6), ready to send lowest bit first."""
    if value < 144:
        return _reversed(0x30 + value, 8), 8
    if value < 256:
        return _reversed(0x190 + value - 144, 9), 9
    if value < 280:
        return _reversed(value - 256, 7), 7
    return _reversed(0xC0 + value - 280, 8), 8


def _length_code(length: int) -> tuple[int, int]:
    if length == _LONGEST:
        return _symbol(285)
    row = max(n for n, (first, _) in enumerate(_LENGTHS) if first <= length)
    code, bits = _symbol(257 + row)
    first, extra = _LENGTHS[row]
    return code | (length - first) << bits, bits + extra


_LITERAL = tuple(_symbol(value) for value in range(256))
_LENGTH = {length: _length_code(length) for length in range(3, _LONGEST + 1)}
_END = _symbol(256)


def _distance(distance: int) -> tuple[int, int]:
    row = max(n for n, (first, _) in enumerate(_DISTANCES) if first <= distance)
    first, extra = _DISTANCES[row]
    return _reversed(row, 5) | (distance - first) << 5, 5 + extra


def deflate(data: bytes) -> bytes:
    """`data` as one DEFLATE block. Plain and slow (about a megabyte a second): meant for small texts and programs."""
    out = bytearray()
    held, bits = 0b011, 3  # RFC 1951, 3.2.3: last block, fixed codes
    last: dict[bytes, int] = {}
    at, end = 0, len(data)
    while at < end:
        key = data[at : at + _SHORTEST]
        back = last.get(key, -1) if len(key) == _SHORTEST else -1
        last[key] = at
        if back >= 0 and at - back <= _WINDOW:
            most = min(_LONGEST, end - at)
            length = _SHORTEST
            while length < most and data[back + length] == data[at + length]:
                length += 1
            pairs: tuple[tuple[int, int], ...] = (_LENGTH[length], _distance(at - back))
            at += length
        else:
            pairs = (_LITERAL[data[at]],)
            at += 1
        for code, width in pairs:
            held |= code << bits
            bits += width
        while bits >= 8:
            out.append(held & 0xFF)
            held >>= 8
            bits -= 8
    code, width = _END
    held |= code << bits
    bits += width
    out += held.to_bytes(-(-bits // 8), "little")
    return bytes(out)
