"""Zip archives (PKWARE APPNOTE 4.3 and 4.4) with fixed times, the same on every machine."""

from __future__ import annotations

import struct
from collections.abc import Iterable
from dataclasses import dataclass
from zlib import crc32

from sample_bundles.deflate import deflate

_STORED, _DEFLATED = 0, 8  # APPNOTE 4.4.5
_UTF8 = 1 << 11  # APPNOTE 4.4.4, bit 11
_UNIX_FILE = 0o100644 << 16  # the usual external attributes of a plain file


@dataclass(frozen=True, slots=True)
class Entry:
    """One file of an archive; `name` with `/`. `utf8` False writes the name in code page 437, as old packers do."""

    name: str
    data: bytes
    utf8: bool = True


def _packed(data: bytes) -> tuple[int, bytes]:
    """Method and packed bytes: stored where a look into the middle shows that packing would not pay."""
    middle = len(data) // 2
    probe = data[middle : middle + 4096] if len(data) > 8192 else data
    if len(deflate(probe)) > 0.95 * len(probe):
        return _STORED, data
    packed = deflate(data)
    return (_DEFLATED, packed) if len(packed) < len(data) else (_STORED, data)


def zip_bytes(entries: Iterable[Entry], day: tuple[int, int, int] = (2026, 2, 10), comment: bytes = b"") -> bytes:
    """An archive of `entries` in their order, all stamped with nine o'clock of `day` (year, month, day)."""
    year, month, day_of_month = day
    stamp = struct.pack("<HH", 9 << 11, (year - 1980) << 9 | month << 5 | day_of_month)  # APPNOTE 4.4.6
    body, directory, count = bytearray(), bytearray(), 0
    for entry in entries:
        ascii_only = entry.name.isascii()
        name = entry.name.encode("ascii" if ascii_only else "utf-8" if entry.utf8 else "cp437")
        flags = 0 if ascii_only or not entry.utf8 else _UTF8
        method, packed = _packed(entry.data)
        common = struct.pack("<HHH", 20, flags, method) + stamp
        common += struct.pack("<IIIHH", crc32(entry.data), len(packed), len(entry.data), len(name), 0)
        offset = len(body)
        body += b"PK\x03\x04" + common + name + packed
        directory += b"PK\x01\x02" + struct.pack("<H", 3 << 8 | 20) + common
        directory += struct.pack("<HHHII", 0, 0, 0, _UNIX_FILE, offset) + name
        count += 1
    end = struct.pack("<HHHHIIH", 0, 0, count, count, len(directory), len(body), len(comment))
    return bytes(body + directory) + b"PK\x05\x06" + end + comment
