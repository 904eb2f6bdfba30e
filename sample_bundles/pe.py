"""Minimal PE32+ programs for x86-64 (Microsoft PE/COFF specification; UEFI Specification, EFI system table)."""

from __future__ import annotations

import struct

EFI_APPLICATION, EFI_DRIVER, WINDOWS_CONSOLE = 10, 11, 3  # PE/COFF, "Windows Subsystem"
X86_64 = 0x8664  # PE/COFF, "Machine Types"

_FILE_STEP, _PAGE = 0x200, 0x1000
_TEXT, _DATA = 0x1000, 0x2000
_HEADER_AT = 0x80
_CHECKSUM_AT = _HEADER_AT + 4 + 20 + 64  # PE/COFF, optional header, CheckSum

_DOS_PART = (  # prints one line under DOS and ends with 1
    b"\x0e\x1f\xba\x0e\x00\xb4\x09\xcd\x21\xb8\x01\x4c\xcd\x21" + b"Not for DOS: start it on the right bench.\r\n$"
)


def _say(text_at: int) -> bytes:
    """Machine code of an EFI entry point that prints the text at RVA `text_at` and returns EFI_SUCCESS."""
    code = bytes.fromhex("4883ec28 488b4a40")  # sub rsp,28h; mov rcx,[rdx+40h] (system table: console out)
    code += b"\x48\x8d\x15" + struct.pack("<i", text_at - (_TEXT + len(code) + 7))  # lea rdx,[rip+text]
    return code + bytes.fromhex("ff5108 31c0 4883c428 c3")  # call [rcx+8] (OutputString); xor eax,eax; ret


_DECLINE = b"\x48\xb8" + struct.pack("<Q", 0x8000_0000_0000_0003) + b"\xc3"  # returns EFI_UNSUPPORTED: unloaded again
_DONE = bytes.fromhex("31c0 c3")  # returns 0


def _steps(length: int, step: int) -> int:
    return -(-length // step) * step


def _section(name: bytes, length: int, rva: int, at: int, flags: int) -> bytes:
    return struct.pack("<8sIIIIIIHHI", name, length, rva, _steps(length, _FILE_STEP), at, 0, 0, 0, 0, flags)


def _checksum(data: bytes) -> int:
    """The checksum of the optional header: 16-bit words added with carry, plus the file's length."""
    total: int = sum(struct.unpack(f"<{len(data) // 2}H", data))
    while total > 0xFFFF:
        total = (total & 0xFFFF) + (total >> 16)
    return total + len(data)


def program(subsystem: int, text: str, ballast: bytes = b"", machine: int = X86_64) -> bytes:
    """A whole program: an application prints `text`, a driver declines to start, a Windows one just ends.

    `text` lies in the data section as UTF-16LE (EFI) or ASCII (Windows), followed by `ballast`.
    """
    efi = subsystem in (EFI_APPLICATION, EFI_DRIVER)
    told = (text + "\r\n\0").encode("utf-16-le" if efi else "ascii")
    code = {EFI_APPLICATION: _say(_DATA), EFI_DRIVER: _DECLINE}.get(subsystem, _DONE)
    data = told + ballast
    relocation = struct.pack("<IIHH", _TEXT, 12, 0, 1)  # a block of two fillers: the code needs no fixing
    relocation_rva = _steps(_DATA + len(data), _PAGE)
    data_at = 0x400 + _steps(len(code), _FILE_STEP)
    relocation_at = data_at + _steps(len(data), _FILE_STEP)

    dos = struct.pack("<2s29H", b"MZ", 0x90, 3, 0, 4, 0, 0xFFFF, 0, 0xB8, 0, 0, 0, 0x40, *([0] * 17))
    dos += struct.pack("<I", _HEADER_AT) + _DOS_PART
    coff = struct.pack("<HHIIIHH", machine, 3, 0, 0, 0, 112 + 16 * 8, 0x0022)
    optional = struct.pack("<HBBIIIII", 0x20B, 1, 0, _steps(len(code), _FILE_STEP), _steps(len(data), _FILE_STEP),
                           0, _TEXT, _TEXT)
    optional += struct.pack("<QIIHHHHHHIIIIHH", 0x1_4000_0000 if not efi else 0, _PAGE, _FILE_STEP, 6, 0, 0, 0, 6, 0,
                            0, relocation_rva + _PAGE, 0x400, 0, subsystem, 0)
    optional += struct.pack("<QQQQII", 0x10_0000, 0x1000, 0x10_0000, 0x1000, 0, 16)
    directories = [(0, 0)] * 16
    directories[5] = (relocation_rva, len(relocation))  # base relocation table
    optional += b"".join(struct.pack("<II", *one) for one in directories)
    sections = _section(b".text", len(code), _TEXT, 0x400, 0x6000_0020)
    sections += _section(b".data", len(data), _DATA, data_at, 0xC000_0040)
    sections += _section(b".reloc", len(relocation), relocation_rva, relocation_at, 0x4200_0040)

    file = bytearray(dos.ljust(_HEADER_AT, b"\0") + b"PE\0\0" + coff + optional + sections)
    file += bytes(0x400 - len(file))
    for part in (code, data, relocation):
        file += part + bytes(_steps(len(part), _FILE_STEP) - len(part))
    struct.pack_into("<I", file, _CHECKSUM_AT, _checksum(bytes(file)))
    return bytes(file)
