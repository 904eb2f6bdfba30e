"""The sums that a configuration EEPROM's layout may declare.

Check values over "123456789" from the catalogue of parametrised CRC algorithms (from memory): CRC-16/ARC BB3Dh,
CRC-32/ISO-HDLC CBF43926h. The plain sums are common practice, no published source.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Mapping

_ARC = 0xA001
"""The polynomial 8005h of CRC-16/ARC, lowest bit first."""


def _table() -> tuple[int, ...]:
    values = []
    for byte in range(256):
        value = byte
        for _ in range(8):
            value = value >> 1 ^ (_ARC if value & 1 else 0)
        values.append(value)
    return tuple(values)


_ARC_TABLE = _table()


def sum8(data: bytes) -> int:
    """The bytes added up, modulo 256."""
    return sum(data) & 0xFF


def sum16le(data: bytes) -> int:
    """The 16-bit little-endian words added up, modulo 65,536; an odd last byte is a word's low byte."""
    return (sum(data[::2]) + (sum(data[1::2]) << 8)) & 0xFFFF


def sum16be(data: bytes) -> int:
    """The 16-bit big-endian words added up, modulo 65,536; an odd last byte is a word's high byte."""
    return ((sum(data[::2]) << 8) + sum(data[1::2])) & 0xFFFF


def xor8(data: bytes) -> int:
    """The bytes combined by exclusive or."""
    value = 0
    for byte in data:
        value ^= byte
    return value


def crc16(data: bytes) -> int:
    """CRC-16/ARC."""
    value = 0
    for byte in data:
        value = value >> 8 ^ _ARC_TABLE[(value ^ byte) & 0xFF]
    return value


def crc32(data: bytes) -> int:
    """The CRC-32 of zip archives (PKWARE APPNOTE 4.4.7)."""
    return zlib.crc32(data)


SUMS: Mapping[str, tuple[Callable[[bytes], int], int]] = {
    "sum8": (sum8, 1),
    "sum16le": (sum16le, 2),
    "sum16be": (sum16be, 2),
    "xor8": (xor8, 1),
    "crc16": (crc16, 2),
    "crc32": (crc32, 4),
}
"""By the layout's word: the sum, and the bytes it is stored in."""
