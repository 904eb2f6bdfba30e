"""A small ELF program for Linux on x86-64 (System V gABI; numbers from memory): prints a line and ends with 0."""

from __future__ import annotations

import struct

_BASE = 0x400000
_EXECUTABLE, _X86_64 = 2, 62
_NAMES = b"\0.text\0.rodata\0.shstrtab\0"


def program(text: str, ballast: bytes = b"") -> bytes:
    """A static ELF64 program: one loaded segment with code, `text` and `ballast`, and a section table."""
    told = text.encode("ascii") + b"\n"
    code_at = 64 + 56
    code_length = 42
    text_at = code_at + code_length
    code = b"\xb8\x01\0\0\0\xbf\x01\0\0\0"  # mov eax,1 (write); mov edi,1
    code += b"\x48\xbe" + struct.pack("<Q", _BASE + text_at)  # mov rsi,text
    code += b"\xba" + struct.pack("<I", len(told)) + b"\x0f\x05"  # mov edx,length; syscall
    code += b"\xb8\x3c\0\0\0\x31\xff\x0f\x05"  # mov eax,60 (exit); xor edi,edi; syscall
    code = code.ljust(code_length, b"\x90")
    data = told + b"\0" + ballast
    names_at = text_at + len(data)
    table_at = -(-(names_at + len(_NAMES)) // 8) * 8
    ident = b"\x7fELF\x02\x01\x01".ljust(16, b"\0")
    header = ident + struct.pack("<HHIQQQIHHHHHH", _EXECUTABLE, _X86_64, 1, _BASE + code_at, 64, table_at, 0,
                                 64, 56, 1, 64, 4, 3)
    segment = struct.pack("<IIQQQQQQ", 1, 5, 0, _BASE, _BASE, names_at, names_at, 0x1000)
    sections = bytes(64)
    for name, kind, flags, at, length in (
        (_NAMES.index(b".text"), 1, 6, code_at, code_length),
        (_NAMES.index(b".rodata"), 1, 2, text_at, len(data)),
        (_NAMES.index(b".shstrtab"), 3, 0, names_at, len(_NAMES)),
    ):
        address = _BASE + at if flags else 0
        sections += struct.pack("<IIQQQQIIQQ", name, kind, flags, address, at, length, 0, 0, 1, 0)
    return (header + segment + code + data + _NAMES).ljust(table_at, b"\0") + sections
