"""A configuration EEPROM's layout as a family declares it. Offsets and lengths are bytes."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class LayoutSum:
    """A declared sum over [start, end). `kind` is sum8, sum16le, sum16be, xor8, crc16 or crc32.

    Either `total` (what the range comes to) or `at` (where it is stored, little-endian, outside the range).
    """

    kind: str
    start: int
    end: int
    total: int | None = None
    at: int | None = None


@dataclass(frozen=True, slots=True)
class LayoutField:
    """One field of an EEPROM layout. `kind` is u8, u16le, u16be, u32le, u32be, u64le, u64be, ascii or bytes."""

    at: int
    kind: str
    length: int
    means: str
    empty: tuple[int, ...] = (0x00, 0xFF)


@dataclass(frozen=True, slots=True)
class Layout:
    """A configuration EEPROM's layout: exact size, magic, an optional sum, fields."""

    name: str
    size: int
    magic_at: int
    magic: bytes
    sum: LayoutSum | None = None
    fields: tuple[LayoutField, ...] = ()
