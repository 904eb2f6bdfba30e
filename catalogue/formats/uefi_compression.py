"""UEFI compression, unpacked: LZ77 over the last 8 KiB, its symbols in Huffman codes that each block brings along.

UEFI Specification 2.x, chapter 19 (compression algorithm); clauses and figures from memory, checked both ways against
PyPI `uefi-firmware` in tests/formats/test_uefi_compression.py.

Why our own decoder: that library's is compiled C (about 2 ms for a driver of 170 kB, this one about 70 ms), but damaged
streams made it grow by 1.6 GB in 15 s where we measured it (1.16), it takes streams that end in the middle of a block
or lack their last bytes, and it has wheels for one processor a system only. A ROM is read once; 70 ms are well spent.

Stricter than the reference firmware, which pads a short stream with zeros and stops at the declared size: every code
must be complete, every match must lie in what is there, the last block must end with the last byte, and nothing but
zero bits may follow it. No compressor makes other streams. One of the "Tiano" kind (same header, 5 bits instead of 4
before the position lengths) does not pass, unless no block holds a match: then it may unpack to bytes that begin
otherwise, and are no driver.

How it is quick: the 16 bits that begin at each bit of a stretch of the stream are laid out in a list (a handful of
shifts of one large integer), so that a symbol is one look-up in a table of whole codes.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from catalogue.formats.limits import (
    MAX_UNPACK_FREE,
    MAX_UNPACK_FREE_WORK,
    MAX_UNPACK_RATIO,
    MAX_UNPACK_WORK,
    MAX_UNPACKED,
)

SOURCE = "UEFI Specification, chapter 19"
HEADER = 8
"""Compressed and original size, four bytes each."""
_MOST_BITS = 16
"""The longest code (19.2.3)."""
_LITERALS = 256
_SHORTEST = 3
_CHARS, _LENGTHS, _POSITIONS = 510, 19, 15
"""Literals and match lengths 3 to 256; the code of their code lengths; the powers of two a distance lies between."""
_CHUNK = 8_192
"""Bytes whose windows are laid out at once: 65,536 numbers, about 2 MB."""
_HEADER_BITS = 14_000
"""More than any block's header takes: 19 and 15 lengths of 13 bits, 510 of 25, counts and runs."""
_SYMBOL_BITS = 46
"""More than any symbol takes: two codes of 16 bits and the low bits of a distance."""
_AT_ONCE = 4_096
"""Symbols between two looks at the size of what was made: it is passed by 1 MiB at most."""

_Entry = TypeVar("_Entry")
_Symbol = tuple[int, int]
"""A code's bits and its symbol."""
_Distance = tuple[int, int, int, int]
"""A code's bits; what its low bits are added to; how far right a window is shifted to give them, and how many they are.

Above 1 a symbol stands for the distances less one of so many bits; all but the highest follow."""
_Code = tuple[list[_Entry], int]
"""What each window stands for, once it is shifted right by the second number."""


@dataclass(frozen=True, slots=True)
class Unpacked:
    """What a stream holds, or `why` it does not unpack: because it is `damaged`, else because it passes a bound.

    `size` is the original size the stream declares, `length` the bytes it takes with its header.
    """

    data: bytes | None
    size: int = 0
    length: int = 0
    why: str = ""
    damaged: bool = False


class _DamagedError(Exception):
    """The stream cannot be what a compressor made."""


class _TooMuchError(Exception):
    """Unpacking would pass a bound."""


def unpack(stream: bytes, most: int = MAX_UNPACKED) -> Unpacked:
    """The bytes packed in `stream`, no more than `most` and the ratio in `limits`.

    What follows the declared compressed size is not looked at.

    Takes about 0.4 µs a symbol and memory for twice the result; never raises.
    """
    if len(stream) < HEADER:
        return Unpacked(None, why="It ends inside its two sizes.", damaged=True)
    packed, size = struct.unpack_from("<II", stream)
    length = HEADER + packed
    if length > len(stream):
        why = f"It says that it takes {length} bytes; {len(stream)} are there."
        return Unpacked(None, size, len(stream), why, damaged=True)
    most = min(most, MAX_UNPACK_FREE + MAX_UNPACK_RATIO * packed)
    if size > most:
        return Unpacked(None, size, length, f"It would unpack to {size} bytes; {most} are the most that are unpacked.")
    try:
        data = _Decoder(stream[HEADER:length], size).run()
    except _DamagedError as error:
        return Unpacked(None, size, length, str(error), damaged=True)
    except _TooMuchError as error:
        return Unpacked(None, size, length, str(error))
    except IndexError:  # the one list that can be passed is that of the windows
        return Unpacked(None, size, length, "The stream ends before its last symbol.", damaged=True)
    return Unpacked(data, size, length)


class _Decoder:
    """One stream. `_at` is a bit of `_windows`, whose first lies at byte `_base` of the packed bytes."""

    __slots__ = ("_at", "_base", "_final", "_left", "_out", "_packed", "_size", "_windows")

    def __init__(self, packed: bytes, size: int) -> None:
        self._packed = packed
        self._size = size
        self._out = bytearray()
        self._left = MAX_UNPACK_FREE_WORK + MAX_UNPACK_WORK * len(packed)
        self._at = self._base = 0
        self._windows: list[int] = []
        self._final = False

    def run(self) -> bytes:
        """Every block. Raises _DamagedError, _TooMuchError, and IndexError where the stream ends too early."""
        self._lay_out()
        while len(self._out) < self._size:
            self._block()
        used = 8 * self._base + self._at
        if used > 8 * len(self._packed):
            raise _DamagedError("The stream ends before its last symbol.")
        rest = int.from_bytes(self._packed[used >> 3 :], "big")
        if rest & ((1 << (8 * len(self._packed) - used)) - 1):
            raise _DamagedError("Bits that belong to no block follow the last one.")
        return bytes(self._out)

    def _lay_out(self) -> None:
        """Make windows from the byte on that `_at` lies in, _CHUNK bytes of them."""
        self._base += self._at >> 3
        self._at &= 7
        chunk = self._packed[self._base : self._base + _CHUNK]
        self._final = self._base + len(chunk) == len(self._packed)
        self._windows = _windows(chunk)

    def _bits(self, count: int) -> int:
        value = self._windows[self._at] >> (_MOST_BITS - count)
        self._at += count
        return value

    def _block(self) -> None:
        """One block (19.2.3): its count of symbols, three codes, the symbols."""
        if not self._final and len(self._windows) - self._at < _HEADER_BITS:
            self._lay_out()
        count = self._bits(16)
        if not 0 < count <= self._size - len(self._out):
            raise _DamagedError(f"A block of {count} symbols is to make {self._size - len(self._out)} bytes.")
        chars = self._char_code(self._small_code(5, _LENGTHS, 3, _symbol))
        positions = self._small_code(4, _POSITIONS, -1, _distance)
        self._left -= count + (len(chars[0]) + len(positions[0]) >> 8)
        if self._left < 0:
            raise _TooMuchError("Its many short codes would take too long to unpack.")
        self._symbols(count, chars, positions)

    def _small_code(self, width: int, most: int, gap_after: int, entry: Callable[[int, int], _Entry]) -> _Code[_Entry]:
        """A code whose lengths stand as 3 bits each, 7 going on in unary; after `gap_after` of them a count of zeros.

        `width` bits say how many there are; 0 stands before the one symbol of a code without bits.
        """
        count = self._bits(width)
        if count == 0:
            return [entry(0, self._bits(width))], _MOST_BITS
        if count > most:
            raise _DamagedError(f"A code of {count} symbols, where {most} are the most.")
        lengths: list[int] = []
        while len(lengths) < count:
            length = self._bits(3)
            while length >= 7 and self._bits(1):
                length += 1
                if length > _MOST_BITS:
                    raise _DamagedError(f"A code of more than {_MOST_BITS} bits.")
            lengths.append(length)
            if len(lengths) == gap_after:
                lengths += [0] * self._bits(2)
        return _code(lengths, entry)

    def _char_code(self, of_lengths: _Code[_Symbol]) -> _Code[_Symbol]:
        """The code of literals and match lengths; its own lengths are coded, zeros in runs."""
        count = self._bits(9)
        if count == 0:
            symbol = self._bits(9)
            if symbol >= _CHARS:
                raise _DamagedError(f"Symbol {symbol}, where {_CHARS - 1} is the last.")
            return [_symbol(0, symbol)], _MOST_BITS
        if count > _CHARS:
            raise _DamagedError(f"A code of {count} symbols, where {_CHARS} are the most.")
        table, shift = of_lengths
        lengths: list[int] = []
        while len(lengths) < count:
            bits, value = table[self._windows[self._at] >> shift]
            self._at += bits
            if value == 0:
                lengths.append(0)
            elif value == 1:
                lengths += [0] * (self._bits(4) + 3)
            elif value == 2:
                lengths += [0] * (self._bits(9) + 20)
            else:
                lengths.append(value - 2)
        if len(lengths) > count:
            raise _DamagedError("A run of code lengths goes past the last of them.")
        return _code(lengths, _symbol)

    def _symbols(self, count: int, chars: _Code[_Symbol], positions: _Code[_Distance]) -> None:
        """`count` literals and matches. Everything this touches is a local name: it is where the time goes."""
        out, size = self._out, self._size
        append = out.append
        char_table, char_shift = chars
        position_table, position_shift = positions
        while count:
            windows, at = self._windows, self._at
            now = min(count, _AT_ONCE)
            if not self._final:
                now = min(now, (len(windows) - at) // _SYMBOL_BITS)
                if now == 0:
                    self._lay_out()
                    continue
            for _ in range(now):
                bits, symbol = char_table[windows[at] >> char_shift]
                at += bits
                if symbol < _LITERALS:
                    append(symbol)
                    continue
                bits, distance, shift, more = position_table[windows[at] >> position_shift]
                at += bits
                distance += windows[at] >> shift
                at += more
                length = symbol - (_LITERALS - _SHORTEST)
                start = len(out) - distance
                if start < 0:
                    raise _DamagedError("A match begins before the first byte.")
                if distance >= length:
                    out += out[start : start + length]
                else:
                    out += (out[start:] * (length // distance + 1))[:length]
            self._at = at
            count -= now
            if len(out) > size:
                raise _DamagedError(f"It makes more than the {size} bytes it declares.")


def _symbol(bits: int, symbol: int) -> _Symbol:
    return bits, symbol


def _distance(bits: int, symbol: int) -> _Distance:
    return (bits, (1 << (symbol - 1)) + 1, 17 - symbol, symbol - 1) if symbol > 1 else (bits, symbol + 1, 16, 0)


def _code(lengths: Sequence[int], entry: Callable[[int, int], _Entry]) -> _Code[_Entry]:
    """The table of the canonical code with these lengths: shorter codes first, then by symbol; it must be complete."""
    top = max(lengths)
    if top > _MOST_BITS or sum(1 << (_MOST_BITS - one) for one in lengths if one) != 1 << _MOST_BITS:
        raise _DamagedError("The lengths of a code do not make a complete code.")
    of_length: list[list[int]] = [[] for _ in range(top + 1)]
    for symbol, length in enumerate(lengths):
        of_length[length].append(symbol)
    table: list[_Entry] = []
    for length in range(1, top + 1):
        for symbol in of_length[length]:
            table += [entry(length, symbol)] * (1 << (top - length))
    return table, _MOST_BITS - top


def _windows(chunk: bytes) -> list[int]:
    """The 16 bits that begin at each bit of `chunk`, and at 16 to 31 bits behind it, where zeros stand."""
    size = len(chunk) + 2 + len(chunk) % 2
    whole = int.from_bytes(chunk, "big") << 8 * (size - len(chunk))
    kept = (1 << 8 * size) - 1
    words = struct.Struct(f">{size // 2}H")
    windows = [0] * (8 * size)
    for shift in range(8):
        moved = (whole << shift & kept).to_bytes(size, "big")
        windows[shift::16] = words.unpack(moved)
        windows[shift + 8 :: 16] = words.unpack(moved[1:] + b"\0")
    return windows
