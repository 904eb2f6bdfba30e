"""Cabinets by hand ([MS-CAB]), one field after the other, so that each can be made wrong."""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass

BLOCK = 32_768


@dataclass
class File:
    """One file. `folder` and `start` are told right where they are None (one folder, one file after the other)."""

    name: bytes
    body: bytes = b"piece"
    folder: int = 0
    start: int | None = None
    size: int | None = None
    attributes: int = 0x20


def checksum(data: bytes, seed: int = 0) -> int:
    """[MS-CAB] 3.1, word by word as it is written there."""
    total = seed
    for at in range(0, len(data) // 4 * 4, 4):
        total ^= struct.unpack_from("<I", data, at)[0]
    rest = data[len(data) // 4 * 4 :]
    last = 0
    for place, byte in zip((16, 8, 0)[3 - len(rest) :], rest, strict=True):
        last |= byte << place
    return total ^ last


def blocks(
    data: bytes, packed: bool, *, wrong_sum: bool = False, reserve: bytes = b"", no_sum: bool = False
) -> list[bytes]:
    """CFDATA structures."""
    made, window = [], b""
    for at in range(0, len(data), BLOCK):
        part = data[at : at + BLOCK]
        raw = part
        if packed:
            of = zlib.compressobj(9, zlib.DEFLATED, -15, zdict=window) if window else zlib.compressobj(9, wbits=-15)
            raw = b"CK" + of.compress(part) + of.flush()
            window = part
        sizes = struct.pack("<2H", len(raw), len(part))
        total = checksum(sizes + reserve, checksum(raw)) ^ wrong_sum
        made.append((bytes(4) if no_sum else struct.pack("<I", total)) + sizes + reserve + raw)
    return made


def cabinet(
    *files: File,
    method: int = 1,
    flags: int = 0,
    reserves: tuple[bytes, bytes, bytes] | None = None,
    names: tuple[bytes, ...] = (),
    size: int | None = None,
    count: int | None = None,
    folders: int | None = None,
    version: tuple[int, int] = (3, 1),
    wrong_sum: bool = False,
    no_sum: bool = False,
    made: list[bytes] | None = None,
    behind: bytes = b"",
) -> bytes:
    """A cabinet of one folder. `reserves` are header's, folder's and each block's; `names` the sets' neighbours."""
    if made is None:
        made = blocks(
            b"".join(one.body for one in files), method == 1, wrong_sum=wrong_sum, no_sum=no_sum,
            reserve=reserves[2] if reserves else b"",
        )  # fmt: skip
    extra = b""
    if reserves is not None:
        flags |= 4
        extra = struct.pack("<H2B", len(reserves[0]), len(reserves[1]), len(reserves[2])) + reserves[0]
    extra += b"".join(one + b"\0" for one in names)
    listed, start = b"", 0
    for one in files:
        length = len(one.body) if one.size is None else one.size
        where = start if one.start is None else one.start
        listed += struct.pack("<2I4H", length, where, one.folder, 0, 0, one.attributes) + one.name + b"\0"
        start += len(one.body)
    folder = reserves[1] if reserves else b""
    files_at = 36 + len(extra) + 8 + len(folder)
    data_at = files_at + len(listed)
    data = b"".join(made)
    whole = data_at + len(data)
    head = b"MSCF" + struct.pack(
        "<5I2B5H", 0, whole if size is None else size, 0, files_at, 0, *version, 1 if folders is None else folders,
        len(files) if count is None else count, flags, 7, 0,
    )  # fmt: skip
    return head + extra + struct.pack("<I2H", data_at, len(made), method) + folder + listed + data + behind
