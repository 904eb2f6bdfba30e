"""ELF files by hand, one field a line (System V gABI)."""

from __future__ import annotations

import struct

LOAD, INTERP, NOTE, DYNAMIC, TLS, GNU_STACK, GNU_RELRO = 1, 3, 4, 2, 7, 0x6474E551, 0x6474E552


def note(name: bytes, kind: int, body: bytes, order: str = "<") -> bytes:
    raw = name + b"\0"
    raw += bytes(-len(raw) % 4)
    return struct.pack(order + "III", len(name) + 1, len(body), kind) + raw + body + bytes(-len(body) % 4)


def elf(
    segments: tuple[tuple[int, bytes], ...] = (),
    *,
    wide: bool = True,
    order: str = "<",
    kind: int = 2,
    machine: int = 62,
    system: int = 0,
    count: int | None = None,
    body: bytes = b"\x90" * 64,
) -> bytes:
    """An ELF file whose segments (type, bytes) follow the program headers."""
    head_size, step = (64, 56) if wide else (52, 32)
    word = "Q" if wide else "I"
    number = len(segments) if count is None else count
    table_end = head_size + step * len(segments)
    ident = b"\x7fELF" + bytes((2 if wide else 1, 1 if order == "<" else 2, 1, system)) + bytes(8)
    head = ident + struct.pack(
        order + "HHI" + word * 3 + "IHHHHHH",
        kind,
        machine,
        1,  # e_version
        0x400000,  # e_entry
        head_size if segments else 0,  # e_phoff
        0,  # e_shoff
        0,  # e_flags
        head_size,
        step,
        number,
        0,  # e_shentsize
        0,  # e_shnum
        0,  # e_shstrndx
    )
    table = bodies = b""
    for what, content in segments:
        at = table_end + len(bodies)
        if wide:
            table += struct.pack(order + "IIQQQQQQ", what, 4, at, at, at, len(content), len(content), 4)
        else:
            table += struct.pack(order + "IIIIIIII", what, at, at, at, len(content), len(content), 4, 4)
        bodies += content
    return head + table + bodies + body
