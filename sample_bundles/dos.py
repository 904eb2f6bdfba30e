"""DOS programs that run: MZ, MZ with an LE part behind it, and COM. Each prints a line and ends with 0.

Header fields of MZ and LE are from memory; the tests ask outside readers, and a DOS where there is one.
"""

from __future__ import annotations

import struct

_PARAGRAPH, _PAGE = 16, 512
_HEADER = 0x40


def _print_and_end(text: str, origin: int, ballast: bytes) -> bytes:
    """16-bit code at `origin` that prints `text` by INT 21h, AH=09h, and ends by AH=4Ch."""
    code = b"\x0e\x1f\xba" + struct.pack("<H", origin + 14) + b"\xb4\x09\xcd\x21\xb8\x00\x4c\xcd\x21"
    return code + text.encode("ascii") + b"\r\n$" + ballast


def com(text: str, ballast: bytes = b"") -> bytes:
    """A COM program (loaded at 100h, no header)."""
    return _print_and_end(text, 0x100, ballast)


def mz(text: str, ballast: bytes = b"", pointer: int = 0) -> bytes:
    """An MZ program with a 64-byte header; `pointer` is the dword at 3Ch (0: nothing behind the DOS part)."""
    image = _print_and_end(text, 0, ballast)
    total = _HEADER + len(image)
    stack = -(-len(image) // _PARAGRAPH)  # the stack's segment: the paragraph behind the image
    header = struct.pack("<2s13H", b"MZ", total % _PAGE, -(-total // _PAGE), 0, _HEADER // _PARAGRAPH, 0x20, 0xFFFF,
                         stack, 0x200, 0, 0, 0, _HEADER, 0)
    return header.ljust(0x3C, b"\0") + struct.pack("<I", pointer) + image


def mz_le(text: str, body: bytes) -> bytes:
    """An MZ program with a linear executable behind it, as DOS-extended ones are built; `body` is its one object."""
    stub = mz(text)
    at = -(-len(stub) // _PARAGRAPH) * _PARAGRAPH
    stub = mz(text, pointer=at)
    pages = -(-len(body) // 4096)
    header_length, object_table = 0xC4, 0xC4
    page_table = object_table + 24
    names = page_table + 4 * pages
    name = b"\x07EXTPART\0\0\0\0"
    data_at = -(-(at + names + len(name)) // 512) * 512
    header = bytearray(header_length)
    struct.pack_into("<2sBBIHHII", header, 0, b"LE", 0, 0, 0, 2, 1, 0, 0)  # 386, little-endian
    struct.pack_into("<IIIIIII", header, 0x14, pages, 1, 0, 1, len(body), 4096, len(body) % 4096)
    struct.pack_into("<III", header, 0x40, object_table, 1, page_table)
    struct.pack_into("<II", header, 0x58, names, names + len(name) - 2)
    struct.pack_into("<I", header, 0x80, data_at)
    table = struct.pack("<IIIIII", len(body), 0x10000, 0x2045, 1, pages, 0)
    page_map = b"".join(struct.pack(">IB", n + 1, 0)[1:] for n in range(pages))
    front = stub + bytes(at - len(stub)) + bytes(header) + table + page_map + name
    return front + bytes(data_at - len(front)) + body
