"""A small ELF program for Linux on x86-64 (System V gABI; numbers from memory): prints a line and ends with 0."""

from __future__ import annotations

import struct

_BASE = 0x400000
_EXECUTABLE, _X86_64 = 2, 62
_NAMES = b"\0.text\0.rodata\0.note.ABI-tag\0.shstrtab\0"
_ABI_TAG = struct.pack("<III4s4I", 4, 16, 1, b"GNU\0", 0, 3, 2, 0)  # NT_GNU_ABI_TAG: Linux, from kernel 3.2.0 (LSB)
_LOAD, _NOTE, _STACK = 1, 4, 0x6474E551  # PT_LOAD, PT_NOTE, PT_GNU_STACK


def program(text: str, ballast: bytes = b"") -> bytes:
    """A static ELF64 program: code, `text` and `ballast` in one loaded segment, the note of its system, sections."""
    told = text.encode("ascii") + b"\n"
    note_at = 64 + 3 * 56
    code_at = note_at + len(_ABI_TAG)
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
                                 64, 56, 3, 64, 5, 4)
    segments = struct.pack("<IIQQQQQQ", _LOAD, 5, 0, _BASE, _BASE, names_at, names_at, 0x1000)
    segments += struct.pack("<IIQQQQQQ", _NOTE, 4, note_at, _BASE + note_at, _BASE + note_at, len(_ABI_TAG),
                            len(_ABI_TAG), 4)
    segments += struct.pack("<IIQQQQQQ", _STACK, 6, 0, 0, 0, 0, 0, 16)
    sections = bytes(64)
    for name, kind, flags, at, length in (
        (b".text", 1, 6, code_at, code_length),
        (b".rodata", 1, 2, text_at, len(data)),
        (b".note.ABI-tag", 7, 2, note_at, len(_ABI_TAG)),
        (b".shstrtab", 3, 0, names_at, len(_NAMES)),
    ):
        address = _BASE + at if flags else 0
        sections += struct.pack("<IIQQQQIIQQ", _NAMES.index(name), kind, flags, address, at, length, 0, 0, 1, 0)
    return (header + segments + _ABI_TAG + code + data + _NAMES).ljust(table_at, b"\0") + sections
