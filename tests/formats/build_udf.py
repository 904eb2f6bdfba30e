"""UDF volumes by hand, one field a line (ECMA-167 3rd edition, UDF 2.60)."""

from __future__ import annotations

import struct
from binascii import crc_hqx
from collections.abc import Mapping

SECTOR = 512
VOLUME = 80
"""Sector of the volume descriptors."""
START = 96
"""Sector at which the partition begins."""
FOLDER, FILE, LINK = 4, 5, 12
SHORT, LONG, WITHIN = 0, 1, 3
RECORDED, UNRECORDED, NEXT = 0, 1, 3


def tag(kind: int, location: int, body: bytes) -> bytes:
    """A descriptor with its tag, sum and CRC (3/7.2)."""
    head = bytearray(struct.pack("<HHBBHHHL", kind, 3, 0, 0, 1, crc_hqx(body, 0), len(body), location))
    head[4] = sum(head) & 0xFF
    return bytes(head) + body


def dstring(text: str, size: int) -> bytes:
    raw = b"\x08" + text.encode("latin-1")
    return raw.ljust(size - 1, b"\0") + bytes((len(raw),))


def entity(name: bytes, suffix: bytes = b"") -> bytes:
    return b"\0" + name.ljust(23, b"\0") + suffix.ljust(8, b"\0")


def anchor(sector: int, length: int = 8 * SECTOR, where: int = VOLUME) -> bytes:
    return tag(2, sector, struct.pack("<LLLL", length, where, length, where).ljust(496, b"\0"))


def partition(length: int, number: int = 0, start: int = START) -> bytes:
    body = struct.pack("<LHH", 1, 1, number) + entity(b"+NSR03") + bytes(128) + struct.pack("<LLL", 1, start, length)
    return tag(5, VOLUME, body.ljust(496, b"\0"))


PLAIN = struct.pack("<BBHH", 1, 6, 1, 0)


def second_map(name: bytes, more: bytes, number: int = 0) -> bytes:
    """A partition map of type 2 (UDF 2.60, 2.2.8 to 2.2.10)."""
    return (b"\2\x40\0\0" + entity(name) + struct.pack("<HH", 1, number) + more).ljust(64, b"\0")


def logical(*maps: bytes, block: int = SECTOR, revision: int = 0x0201, file_set: tuple[int, int] = (0, 0)) -> bytes:
    table = b"".join(maps)
    body = (
        struct.pack("<L", 2)
        + bytes(64)
        + dstring("SALTMARSH", 128)
        + struct.pack("<L", block)
        + entity(b"*OSTA UDF Compliant", struct.pack("<H", revision))
        + struct.pack("<LLH6x", SECTOR, *file_set)
        + struct.pack("<LL", len(table), len(maps))
        + bytes(32 + 128 + 8)
        + table
    )
    return tag(6, VOLUME + 1, body)


def file_set(block: int, partition_: int = 0) -> bytes:
    body = bytes(384) + struct.pack("<LLH6x", SECTOR, block, partition_)
    return tag(256, 0, body.ljust(496, b"\0"))


def short_ad(block: int, length: int, kind: int = RECORDED) -> bytes:
    return struct.pack("<LL", length | kind << 30, block)


def long_ad(block: int, length: int, partition_: int = 0, kind: int = RECORDED) -> bytes:
    return struct.pack("<LLH6x", length | kind << 30, block, partition_)


def file_entry(
    size: int, data: bytes, kind: int = FILE, how: int = SHORT, *, extended: bool = False, **more: int
) -> bytes:
    """A file entry (4/14.9) or an extended one (4/14.17) with these allocation descriptors or embedded bytes."""
    icb = struct.pack("<LHHHBB6xH", 0, more.get("strategy", 4), 0, 1, 0, kind, how)
    if extended:
        streams = long_ad(more["streams"], SECTOR) if "streams" in more else bytes(16)
        body = icb + bytes(20) + struct.pack("<QQQ", size, size, 0) + bytes(72) + streams + bytes(40)
        body = body[:192]
        return tag(266, 0, body.ljust(192, b"\0") + struct.pack("<LL", 0, len(data)) + data)
    body = icb + bytes(20) + struct.pack("<Q", size)
    return tag(261, 0, body.ljust(152, b"\0") + struct.pack("<LL", 0, len(data)) + data)


def identifier(name: bytes, block: int, flags: int = 0, partition_: int = 0) -> bytes:
    """A file identifier (4/14.4); `name` is compressed Unicode, its first byte the kind."""
    body = struct.pack("<HBB", 1, flags, len(name)) + long_ad(block, SECTOR, partition_) + bytes(2) + name
    made = tag(257, 0, body)
    return made.ljust(-(-len(made) // 4) * 4, b"\0")


PARENT = identifier(b"", 1, 0x0A)


def named(text: str, block: int, flags: int = 0, partition_: int = 0) -> bytes:
    return identifier(b"\x08" + text.encode("latin-1"), block, flags, partition_)


def root(*entries: bytes, parent: bool = True) -> bytes:
    """The root folder's entry with its identifiers embedded."""
    data = (PARENT if parent else b"") + b"".join(entries)
    return file_entry(len(data), data, FOLDER, WITHIN)


def recognition(*names: bytes) -> bytes:
    return b"".join((b"\0" + name + b"\1").ljust(2_048, b"\0") for name in names)


def udf(
    blocks: Mapping[int, bytes],
    *,
    maps: tuple[bytes, ...] = (PLAIN,),
    length: int = 12,
    volume: Mapping[int, bytes] | None = None,
    more: Mapping[int, bytes] | None = None,
    revision: int = 0x0201,
    set_at: tuple[int, int] = (0, 0),
) -> bytes:
    """A volume whose partition holds these blocks; block 0 is the file set, block 1 the root folder's entry.

    `volume` overrides volume descriptors by number, `more` sectors of the image.
    """
    total = START + length + 1
    image = bytearray(total * SECTOR)
    image[64 * SECTOR : 64 * SECTOR + 3 * 2_048] = recognition(b"BEA01", b"NSR03", b"TEA01")
    described = {
        0: partition(length),
        1: logical(*maps, revision=revision, file_set=set_at),
        2: tag(8, VOLUME + 2, bytes(496)),
        **(volume or {}),
    }
    sectors = {VOLUME + number: data for number, data in described.items()}
    sectors |= {START + number: data for number, data in {0: file_set(1), **blocks}.items()}
    sectors |= {total - 1: anchor(total - 1), **(more or {})}
    for number, data in sectors.items():
        image[number * SECTOR : number * SECTOR + len(data)] = data
    return bytes(image)
