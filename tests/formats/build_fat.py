"""FAT file systems by hand, one field a line (Microsoft FAT32 File System Specification 1.03)."""

from __future__ import annotations

import struct
from collections.abc import Mapping
from itertools import pairwise

END = {12: 0xFFF, 16: 0xFFFF, 32: 0x0FFFFFFF}
FOLDER, LABEL, LONG = 0x10, 0x08, 0x0F


def entry(name: bytes, cluster: int = 0, size: int = 0, attributes: int = 0x20, lower: int = 0) -> bytes:
    """A folder's entry; `name` is eleven bytes, or 8.3 with a dot."""
    if len(name) != 11:
        base, _, extension = name.partition(b".")
        name = base.ljust(8) + extension.ljust(3)
    return (
        name
        + bytes((attributes, lower, 0))
        + bytes(6)
        + (cluster >> 16).to_bytes(2, "little")
        + bytes(4)
        + (cluster & 0xFFFF).to_bytes(2, "little")
        + size.to_bytes(4, "little")
    )


def long(name: str, short: bytes, total: int | None = None) -> bytes:
    """The entries of a long name that stand before the short one, with its sum."""
    total = checksum(entry(short)[:11]) if total is None else total
    raw = name.encode("utf-16-le", "surrogatepass")
    if len(raw) % 26:
        raw = (raw + b"\0\0").ljust(-(-len(raw) // 26) * 26, b"\xff")
    parts = []
    count = len(raw) // 26
    for index in range(count):
        part = raw[26 * index : 26 * index + 26]
        order = index + 1 | (0x40 if index + 1 == count else 0)
        head = bytes((order,)) + part[:10]
        parts.append(head + bytes((LONG, 0, total)) + part[10:22] + bytes(2) + part[22:])
    return b"".join(reversed(parts))


def checksum(short: bytes) -> int:
    total = 0
    for byte in short:
        total = (total >> 1 | (total & 1) << 7) + byte & 0xFF
    return total


def fat(
    root: bytes = b"",
    *,
    chains: tuple[tuple[int, ...], ...] = (),
    data: Mapping[int, bytes] | None = None,
    bits: int = 12,
    clusters: int = 12,
    per_cluster: int = 1,
    sector: int = 512,
    table: Mapping[int, int] | None = None,
    second_table: Mapping[int, int] | None = None,
    patch: Mapping[int, bytes] | None = None,
) -> bytes:
    """A file system with this root folder, these chains of clusters and these bytes from a cluster on.

    `table` overrides entries of both tables, `second_table` those of the second; `patch` bytes of the image.
    """
    wide = bits == 32
    reserved = 8 if wide else 1
    table_bytes = -(-((clusters + 2) * bits + 7) // 8 // sector) * sector
    root_bytes = 0 if wide else 512
    total = reserved + (2 * table_bytes + root_bytes) // sector + clusters * per_cluster
    boot = bytearray(512)
    boot[0:3] = b"\xeb\x3c\x90"
    boot[3:11] = b"BYHAND  "
    struct.pack_into("<HBHB", boot, 11, sector, per_cluster, reserved, 2)
    struct.pack_into("<H", boot, 17, root_bytes // 32)
    struct.pack_into("<H", boot, 19, 0 if wide else total)
    boot[21] = 0xF8
    struct.pack_into("<H", boot, 22, 0 if wide else table_bytes // sector)
    if wide:
        struct.pack_into("<L", boot, 32, total)
        struct.pack_into("<LHHLHH", boot, 36, table_bytes // sector, 0, 0, 2, 1, 6)
    at = 66 if wide else 38
    boot[at] = 0x29
    boot[at + 1 : at + 5] = b"\x78\x56\x34\x12"
    boot[at + 5 : at + 16] = b"NO NAME    "
    boot[at + 16 : at + 24] = f"FAT{bits}".encode().ljust(8)
    boot[510:] = b"\x55\xaa"
    image = bytearray(total * sector)
    image[:512] = boot
    if wide:
        image[6 * 512 : 7 * 512] = boot
        chains = ((2,), *chains)
    links = {0: END[bits] & ~0xFF | 0xF8, 1: END[bits]}
    for chain in chains:
        links |= dict(pairwise(chain))
        links[chain[-1]] = END[bits]
    links |= table or {}
    for copy in range(2):
        if copy:
            links |= second_table or {}
        whole = 0
        for cluster, value in links.items():
            whole |= value << cluster * bits
        start = reserved * sector + copy * table_bytes
        image[start : start + table_bytes] = whole.to_bytes(table_bytes, "little")
    first = reserved * sector + 2 * table_bytes
    if wide:
        data = {2: root, **(data or {})}
    else:
        image[first : first + len(root)] = root
    for cluster, stored in (data or {}).items():
        start = first + root_bytes + (cluster - 2) * per_cluster * sector
        image[start : start + len(stored)] = stored
    for start, stored in (patch or {}).items():
        image[start : start + len(stored)] = stored
    return bytes(image)
