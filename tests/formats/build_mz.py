"""DOS programs by hand, one field a line."""

from __future__ import annotations

import struct


def mz(
    code: bytes = b"QUAYHAND 3.10\r\n$" + b"\x90" * 100,
    *,
    pages: int | None = None,
    last: int | None = None,
    relocation_table: int = 0x1C,
    pointer: int = 0,
    behind: bytes = b"",
) -> bytes:
    """A program of a 64-byte header and `code`; what is None is told right."""
    size = 64 + len(code)
    head = struct.pack(
        "<2s13H",
        b"MZ",
        size % 512 if last is None else last,
        -(-size // 512) if pages is None else pages,
        0,  # relocations
        4,  # header paragraphs
        0,  # least memory
        0xFFFF,  # most memory
        0,  # SS
        0x100,  # SP
        0,  # checksum
        0,  # IP
        0,  # CS
        relocation_table,
        0,  # overlay number
    )
    return head + bytes(0x3C - len(head)) + struct.pack("<I", pointer) + code + behind


def extended(signature: bytes, system: int = 1) -> bytes:
    """MZ with an NE, LE or LX program behind it."""
    newer = bytearray(signature + bytes(0x3E))
    newer[0x36 if signature == b"NE" else 0x0A] = system
    program = mz(relocation_table=0x40)
    pointer = len(program)
    return mz(relocation_table=0x40, pointer=pointer) + bytes(newer) + b"BERTHTOOL 2.04\0" + bytes(200)
