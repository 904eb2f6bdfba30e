"""Partition tables by hand, one field a line (UEFI 2.10, 5.2 and 5.3)."""

from __future__ import annotations

import struct
import uuid
import zlib

EFI_SYSTEM = "C12A7328-F81F-11D2-BA4B-00A0C93EC93B"


def mbr_entry(start: int, sectors: int, kind: int = 0x0C, flag: int = 0) -> bytes:
    return bytes((flag, 0, 2, 0, kind, 0xFE, 0xFF, 0xFF)) + struct.pack("<LL", start, sectors)


def mbr(*entries: bytes) -> bytes:
    """A master boot record, or the record of a logical partition."""
    return bytes(446) + b"".join(entries).ljust(64, b"\0") + b"\x55\xaa"


def put(size: int, parts: dict[int, bytes]) -> bytes:
    """An image of `size` bytes with these bytes at these sectors."""
    image = bytearray(size)
    for sector, data in parts.items():
        image[sector * 512 : sector * 512 + len(data)] = data
    return bytes(image)


def gpt_entry(first: int, last: int, name: str = "", kind: str = EFI_SYSTEM) -> bytes:
    guid = uuid.UUID(kind).bytes_le
    return guid + bytes(range(16)) + struct.pack("<QQQ", first, last, 0) + name.encode("utf-16-le").ljust(72, b"\0")


def gpt_header(here: int, other: int, array: int, entries: bytes, count: int = 4, **more: int) -> bytes:
    def packed(crc: int) -> bytes:
        return struct.pack(
            "<8sLLLLQQQQ16sQLLL",
            b"EFI PART",
            0x10000,
            more.get("size", 92),
            crc,
            0,
            here,
            other,
            3,
            60,
            bytes(16),
            array,
            count,
            more.get("length", 128),
            more.get("array_crc", zlib.crc32(entries)),
        )

    return packed(more.get("crc", zlib.crc32(packed(0)))).ljust(512, b"\0")


def gpt(*entries: bytes, sectors: int = 16, parts: dict[int, bytes] | None = None, second: bool = True) -> bytes:
    """A disk with both tables of four entries; the partitions' bytes stand in `parts` by sector."""
    raw = b"".join(entries).ljust(512, b"\0")
    last = sectors - 1
    whole = {
        0: mbr(mbr_entry(1, last, 0xEE)),
        1: gpt_header(1, last, 2, raw),
        2: raw,
        **(parts or {}),
    }
    if second:
        whole |= {last - 1: raw, last: gpt_header(last, 1, last - 1, raw)}
    return put(sectors * 512, whole)
