"""Compound files by hand ([MS-CFB]), and an installer's names and tables in them."""

from __future__ import annotations

import struct
import uuid

SECTOR, MINI, CUTOFF, END, FREE = 512, 64, 4096, 0xFFFF_FFFE, 0xFFFF_FFFF
PACKAGE = "000C1084-0000-0000-C000-000000000046"
SIGNS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz._"


def packed_name(name: str, table: bool = False) -> str:
    """A stream's name as an installer keeps it: two signs in one character (from memory)."""
    out = "\u4840" if table else ""
    at = 0
    while at < len(name):
        pair = name[at : at + 2]
        if len(pair) == 2 and all(sign in SIGNS for sign in pair):
            out += chr(0x3800 + SIGNS.index(pair[0]) + (SIGNS.index(pair[1]) << 6))
            at += 2
        else:
            out += chr(0x4800 + SIGNS.index(pair[0])) if pair[0] in SIGNS else pair[0]
            at += 1
    return out


def property_tables(values: dict[str, str], page: int = 65001, wide: bool = False) -> dict[str, bytes]:
    """The streams of a database whose one table is Property."""
    texts = [text for pair in values.items() for text in pair]
    raw = [text.encode() for text in texts]
    pool = struct.pack("<2H", page, 0x8000 if wide else 0) + b"".join(struct.pack("<2H", len(one), 1) for one in raw)
    width = 3 if wide else 2
    keys = b"".join((1 + 2 * row).to_bytes(width, "little") for row in range(len(values)))
    held = b"".join((2 + 2 * row).to_bytes(width, "little") for row in range(len(values)))
    return {
        packed_name("_StringPool", True): pool,
        packed_name("_StringData", True): b"".join(raw),
        packed_name("Property", True): keys + held,
    }


def compound(streams: dict[str, bytes], *, clsid: str = PACKAGE, chain: dict[int, int] | None = None,
             sizes: dict[str, int] | None = None, tree: dict[int, tuple[int, int]] | None = None) -> bytes:  # fmt: skip
    """A file whose root holds these streams, each the right sibling of the one before.

    `chain` replaces entries of the allocation table, `sizes` stated sizes, `tree` an entry's left and right sibling.
    """
    fat: list[int] = []
    body: list[bytes] = []

    def place(data: bytes) -> int:
        if not data:
            return END
        first = len(fat)
        count = -(-len(data) // SECTOR)
        fat.extend(range(first + 1, first + count))
        fat.append(END)
        body.append(data.ljust(count * SECTOR, b"\0"))
        return first

    mini, mini_fat, starts = b"", [], {}
    for name, data in streams.items():
        if len(data) >= CUTOFF:
            starts[name] = place(data)
        elif data:
            starts[name] = len(mini_fat)
            count = -(-len(data) // MINI)
            mini_fat += [*range(len(mini_fat) + 1, len(mini_fat) + count), END]
            mini += data.ljust(count * MINI, b"\0")
        else:
            starts[name] = END
    root_start = place(mini)
    mini_start = place(b"".join(struct.pack("<I", one) for one in mini_fat))

    def entry(
        name: str, kind: int, start: int, size: int, left: int = FREE, right: int = FREE, child: int = FREE
    ) -> bytes:
        raw = name.encode("utf-16-le")[:62]
        out = raw.ljust(64, b"\0") + struct.pack("<H2B3I", len(raw) + 2, kind, 1, left, right, child)
        return (
            out + (uuid.UUID(clsid).bytes_le if kind == 5 else bytes(16)) + bytes(20) + struct.pack("<IQ", start, size)
        )

    entries = entry("Root Entry", 5, root_start, len(mini), child=1 if streams else FREE)
    for number, (name, data) in enumerate(streams.items(), 1):
        left, right = (tree or {}).get(number, (FREE, number + 1 if number < len(streams) else FREE))
        entries += entry(name, 2, starts[name], (sizes or {}).get(name, len(data)), left, right)
    directory = place(entries)
    table = len(fat)
    fat_sectors = 1
    while len(fat) + fat_sectors > fat_sectors * SECTOR // 4:
        fat_sectors += 1
    fat += [0xFFFF_FFFD] * fat_sectors
    for at, value in (chain or {}).items():
        fat[at] = value
    fat += [FREE] * (fat_sectors * SECTOR // 4 - len(fat))
    head = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(16) + struct.pack("<5H6x", 0x3E, 3, 0xFFFE, 9, 6)
    head += struct.pack("<9I", 0, fat_sectors, directory, 0, CUTOFF, mini_start, mini_start != END, END, 0)
    head += b"".join(struct.pack("<I", table + at if at < fat_sectors else FREE) for at in range(109))
    return head + b"".join(body) + b"".join(struct.pack("<I", one) for one in fat)


def installer(streams: dict[str, bytes] | None = None, version: str = "12.04.00") -> bytes:
    """A package that installs `version` of an invented product."""
    values = {"ProductName": "Heron tools", "ProductVersion": version, "Manufacturer": "Corvane"}
    named = {packed_name(name): data for name, data in (streams or {}).items()}
    return compound(property_tables(values) | named | {"\5SummaryInformation": b"summary"})
