"""Zip archives by hand, one field a line (PKWARE APPNOTE.TXT 6.3), so that each can be made wrong."""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass


@dataclass
class Entry:
    """One member. What is None is told right; the `local_` values stand in its own header where given."""

    name: bytes
    body: bytes = b"piece"
    method: int = 0
    flags: int = 0
    crc32: int | None = None
    size: int | None = None
    packed_size: int | None = None
    extra: bytes = b""
    disk: int = 0
    made_by: int = 20
    outer: int = 0
    offset: int | None = None
    local_name: bytes | None = None
    local_method: int | None = None
    local_flags: int | None = None
    local_crc32: int | None = None
    local_size: int | None = None
    local_extra: bytes = b""


def archive(
    *entries: Entry,
    before: bytes = b"",
    comment: bytes = b"",
    adjusted: bool = False,
    total: int | None = None,
    disk: int = 0,
    zip64: bool = False,
    behind: bytes = b"",
) -> bytes:
    """The archive behind `before`; `adjusted`: its offsets count from the very first byte."""
    base = 0 if adjusted else len(before)
    data = bytearray(before)
    central = b""
    for one in entries:
        packed = _packed(one)
        crc32 = zlib.crc32(one.body) if one.crc32 is None else one.crc32
        size = len(one.body) if one.size is None else one.size
        packed_size = len(packed) if one.packed_size is None else one.packed_size
        name = one.name if one.local_name is None else one.local_name
        offset = len(data) - base if one.offset is None else one.offset
        data += struct.pack(
            "<4sHHHHHIIIHH",
            b"PK\x03\x04",
            20,  # version needed
            one.flags if one.local_flags is None else one.local_flags,
            one.method if one.local_method is None else one.local_method,
            0,  # time
            0x21,  # date
            crc32 if one.local_crc32 is None else one.local_crc32,
            packed_size,
            size if one.local_size is None else one.local_size,
            len(name),
            len(one.local_extra),
        )
        data += name + one.local_extra + packed
        central += struct.pack(
            "<4sHHHHHHIIIHHHHHII",
            b"PK\x01\x02",
            one.made_by,
            20,  # version needed
            one.flags,
            one.method,
            0,  # time
            0x21,  # date
            crc32,
            packed_size,
            size,
            len(one.name),
            len(one.extra),
            0,  # comment length
            one.disk,
            0,  # internal attributes
            one.outer,
            offset,
        )
        central += one.name + one.extra
    count = len(entries) if total is None else total
    directory = len(data) - base
    data += central
    if zip64:
        end64 = len(data) - base
        data += struct.pack("<4sQHHIIQQQQ", b"PK\x06\x06", 44, 45, 45, 0, 0, count, count, len(central), directory)
        data += struct.pack("<4sIQI", b"PK\x06\x07", 0, end64, 1)
        data += struct.pack("<4sHHHHIIH", b"PK\x05\x06", 0, 0, 0xFFFF, 0xFFFF, 0xFFFFFFFF, 0xFFFFFFFF, len(comment))
    else:
        data += struct.pack(
            "<4sHHHHIIH", b"PK\x05\x06", disk, disk, count, count, len(central), directory, len(comment)
        )
    return bytes(data) + comment + behind


def _packed(one: Entry) -> bytes:
    if one.method != 8:
        return one.body
    pack = zlib.compressobj(9, zlib.DEFLATED, -15)
    return pack.compress(one.body) + pack.flush()
