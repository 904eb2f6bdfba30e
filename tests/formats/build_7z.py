"""7z archives by hand (7zFormat.txt of the LZMA SDK), one field after the other, so that each can be made wrong."""

from __future__ import annotations

import lzma
import struct
import zlib
from dataclasses import dataclass

COPY, LZMA2, AES = b"\x01\x00", b"\x21\x21\x01\x10", b"\x24\x06\xf1\x07\x01\x02\x00\x00"
"""Coders: flags, number, properties (a window of 1 MiB)."""


@dataclass
class File:
    """One file; an empty `body` makes it one without a stream. `attributes` as Windows keeps them, Unix ones above."""

    name: str
    body: bytes = b"piece"
    folder: bool = False
    attributes: int = 0x20
    crc: int | None = None


def number(value: int) -> bytes:
    """NUMBER."""
    for extra in range(8):
        if value < 1 << (7 * (extra + 1)):
            first = (0xFF00 >> extra) & 0xFF
            return bytes((first | value >> (8 * extra),)) + (value & (1 << (8 * extra)) - 1).to_bytes(extra, "little")
    return b"\xff" + value.to_bytes(8, "little")


def bits(values: list[bool]) -> bytes:
    """BITs, the highest first."""
    out = bytearray((len(values) + 7) // 8)
    for at, one in enumerate(values):
        out[at // 8] |= one << (7 - at % 8)
    return bytes(out)


def packed(data: bytes) -> bytes:
    """LZMA2 with the window of `LZMA2`."""
    return lzma.compress(data, lzma.FORMAT_RAW, filters=[{"id": lzma.FILTER_LZMA2, "dict_size": 1 << 20}])


def streams(sizes: list[int], folder: bytes, unpacked: list[int], crc: int | None = None, offset: int = 0) -> bytes:
    """PackInfo and UnpackInfo of one block."""
    out = b"\x06" + number(offset) + number(len(sizes)) + b"\x09" + b"".join(map(number, sizes)) + b"\0"
    out += b"\x07\x0b\x01\0" + folder + b"\x0c" + b"".join(map(number, unpacked))
    if crc is not None:
        out += b"\x0a\x01" + struct.pack("<I", crc)
    return out + b"\0"


def header(
    *files: File,
    coder: bytes = LZMA2,
    size: int | None = None,
    unpacked: int | None = None,
    counts: int | None = None,
    folder: bytes | None = None,
) -> bytes:
    """The list of files whose bytes are packed in one block of `size` packed bytes."""
    full = [one for one in files if one.body]
    whole = b"".join(one.body for one in full)
    out = b"\x01"
    if full:
        size = len(packed(whole)) if size is None else size
        out += b"\x04" + streams([size], folder or b"\x01" + coder, [len(whole) if unpacked is None else unpacked])
        out += b"\x08\x0d" + number(len(full))
        if len(full) > 1:
            out += b"\x09" + b"".join(number(len(one.body)) for one in full[:-1])
        crcs = [zlib.crc32(one.body) if one.crc is None else one.crc for one in full]
        out += b"\x0a\x01" + b"".join(struct.pack("<I", one) for one in crcs) + b"\0\0"
    out += b"\x05" + number(len(files) if counts is None else counts)
    empty = [not one.body for one in files]
    if any(empty):
        raw = bits(empty)
        out += b"\x0e" + number(len(raw)) + raw
        raw = bits([not one.folder for one in files if not one.body])
        out += b"\x0f" + number(len(raw)) + raw
    names = b"\0" + b"".join(one.name.encode("utf-16-le", "surrogatepass") + b"\0\0" for one in files)
    out += b"\x11" + number(len(names)) + names
    raw = b"\x01\0" + b"".join(struct.pack("<I", one.attributes) for one in files)
    return out + b"\x15" + number(len(raw)) + raw + b"\0\0"


def archive(
    *files: File,
    coder: bytes = LZMA2,
    listed: bytes | None = None,
    data: bytes | None = None,
    crc: int | None = None,
    header_size: int | None = None,
    header_offset: int | None = None,
    pack_header: bool = False,
    behind: bytes = b"",
) -> bytes:
    """A whole archive; `listed` and `data` stand in place of the header and the packed bytes where they are given."""
    whole = b"".join(one.body for one in files)
    if data is None:
        data = whole if coder == COPY else packed(whole)
    if listed is None:
        listed = header(*files, coder=coder, size=len(data))
    if pack_header:
        small = packed(listed)
        listed = b"\x17" + streams([len(small)], b"\x01" + LZMA2, [len(listed)], zlib.crc32(listed), len(data)) + b"\0"
        data += small
    first = struct.pack(
        "<2QI",
        len(data) if header_offset is None else header_offset,
        len(listed) if header_size is None else header_size,
        zlib.crc32(listed) if crc is None else crc,
    )  # fmt: skip
    return b"7z\xbc\xaf\x27\x1c\0\4" + struct.pack("<I", zlib.crc32(first)) + first + data + listed + behind
