"""Firmware volumes for tests, from the PI Specification, volume 3 (3.2); the reader has no part in it."""

from __future__ import annotations

import lzma
import struct
import uuid
import zlib
from dataclasses import dataclass

from tests.formats.build_uefi_stream import pack

FFS1 = "7a9354d9-0468-444a-81ce-0bf617d890df"
FFS2 = "8c8ce578-8a3d-4f1c-9935-896185c32dd3"
FFS3 = "5473c07a-3dcb-4dca-bd6f-1e9689e7349a"
LZMA = "ee4e5898-3914-4259-9d6e-dc7bd79403cf"
CRC32 = "fc1bcdb0-7d31-49aa-936a-a4600d9dd083"
NAME = "f2340020-0001-4002-8003-00000000000{}"
"""Invented; the last digit counts."""
BLOCK = 512


def section(kind: int, body: bytes, large: bool = False) -> bytes:
    if large:
        return b"\xff\xff\xff" + bytes([kind]) + struct.pack("<I", len(body) + 8) + body
    return (len(body) + 4).to_bytes(3, "little") + bytes([kind]) + body


def sections(*each: bytes) -> bytes:
    """Sections one behind another, each on a 4-byte step."""
    raw = b""
    for one in each:
        raw = raw.ljust((len(raw) + 3) // 4 * 4, b"\0") + one
    return raw


def name(text: str) -> bytes:
    return section(0x15, (text + "\0").encode("utf-16-le"))


def version(text: str, build: int = 0) -> bytes:
    return section(0x14, struct.pack("<H", build) + (text + "\0").encode("utf-16-le"))


def compressed(body: bytes, kind: int = 1, size: int | None = None) -> bytes:
    packed = pack(body) if kind == 1 else body
    return section(0x01, struct.pack("<IB", len(body) if size is None else size, kind) + packed)


def guided(guid: str, body: bytes, extra: bytes = b"", attributes: int = 1) -> bytes:
    head = uuid.UUID(guid).bytes_le + struct.pack("<HH", 24 + len(extra), attributes)
    return section(0x02, head + extra + body)


def lzma_section(body: bytes, cut: int = 0) -> bytes:
    raw = lzma.compress(body, lzma.FORMAT_ALONE)
    raw = raw[:5] + struct.pack("<Q", len(body)) + raw[13:]
    return guided(LZMA, raw[: len(raw) - cut])


def crc_section(body: bytes, value: int | None = None) -> bytes:
    return guided(CRC32, body, struct.pack("<I", zlib.crc32(body) if value is None else value))


@dataclass(frozen=True)
class File:
    body: bytes = b""
    kind: int = 0x07
    number: int = 1
    summed: bool = False
    state: int = 0x07
    header_sum: int | None = None
    data_sum: int | None = None
    size: int | None = None
    large: bool = False


@dataclass(frozen=True)
class Made:
    files: tuple[File, ...] = (File(name("Heron")),)
    system: str = FFS2
    erased: int = 0xFF
    extended: bytes = b""
    blocks: int | None = None
    length: int | None = None
    checksum: int | None = None
    tail: int = 1
    map: bytes | None = None


def file(one: File, erased: int = 0xFF) -> bytes:
    head_size = 32 if one.large else 24
    size = head_size + len(one.body) if one.size is None else one.size
    attributes = (0x40 if one.summed else 0) | (1 if one.large else 0)
    head = bytearray(uuid.UUID(NAME.format(one.number)).bytes_le + bytes([0, 0, one.kind, attributes]))
    head += (0xFFFFFF if one.large else size).to_bytes(3, "little") + b"\0"
    if one.large:
        head += struct.pack("<Q", size)
    head[16] = -sum(head) & 0xFF if one.header_sum is None else one.header_sum
    data_sum = -sum(one.body) & 0xFF if one.summed else 0xAA
    head[17] = data_sum if one.data_sum is None else one.data_sum
    head[23] = one.state ^ erased
    return bytes(head) + one.body


def volume(made: Made | None = None) -> bytes:
    made = made or Made()
    fill = bytes([made.erased])
    head_size = 0x48
    raw = b""
    extended_at = 0
    if made.extended:
        extended_at = head_size
        raw += made.extended + struct.pack("<I", 20 + 4) + b"own!"
        raw = raw.ljust((len(raw) + 7) // 8 * 8, fill)
    for one in made.files:
        raw = raw.ljust((len(raw) + 7) // 8 * 8, fill)
        raw += file(one, made.erased)
    length = (head_size + len(raw) + BLOCK - 1) // BLOCK * BLOCK + (made.tail - 1) * BLOCK
    raw = raw.ljust(length - head_size, fill)
    length = length if made.length is None else made.length
    head = bytearray(bytes(16) + uuid.UUID(made.system).bytes_le + struct.pack("<Q", length) + b"_FVH")
    head += struct.pack("<IHHHBB", 0x800 if made.erased else 0, head_size, 0, extended_at, 0, 2)
    head += made.map or struct.pack("<IIII", length // BLOCK if made.blocks is None else made.blocks, BLOCK, 0, 0)
    total = -sum(struct.unpack(f"<{head_size // 2}H", head)) & 0xFFFF
    head[0x32:0x34] = struct.pack("<H", total if made.checksum is None else made.checksum)
    return bytes(head) + raw


def nested(inner: bytes, depth: int) -> bytes:
    """`inner`, a volume, `depth` times inside another."""
    for _ in range(depth):
        inner = volume(Made((File(sections(section(0x17, inner)), 0x0B),)))
    return inner
