"""PE images by hand, one field a line (Microsoft PE Format)."""

from __future__ import annotations

import struct
from dataclasses import dataclass, field

PE_AT = 0x80
OPTIONAL_AT = PE_AT + 24
FILE_ALIGN = 0x200


@dataclass
class MadePe:
    """What to make. `resources` goes into a section of its own at address 2000h."""

    machine: int = 0x8664
    subsystem: int = 11
    wide: bool = True
    timestamp: int = 0x5F000000
    code: bytes = b"\xc3" * 64
    resources: bytes = b""
    certificates: bytes = b""
    overlay: bytes = b""
    symbols: bytes = b""
    extra: dict[int, bytes] = field(default_factory=dict)


def _padded(data: bytes) -> bytes:
    return data + bytes(-len(data) % FILE_ALIGN)


def pe(made: MadePe | None = None) -> bytes:
    made = made or MadePe()
    sections = [(b".text", 0x1000, made.code)] + ([(b".rsrc", 0x2000, made.resources)] if made.resources else [])
    optional_size = 240 if made.wide else 224
    headers_size = 0x200
    bodies = b""
    table = b""
    for name, address, body in sections:
        table += struct.pack(
            "<8sIIIIIIHHI",
            name,
            len(body),  # VirtualSize
            address,  # VirtualAddress
            len(_padded(body)),  # SizeOfRawData
            headers_size + len(bodies),  # PointerToRawData
            0,  # PointerToRelocations
            0,  # PointerToLinenumbers
            0,  # NumberOfRelocations
            0,  # NumberOfLinenumbers
            0x60000020,  # Characteristics
        )
        bodies += _padded(body)
    end = headers_size + len(bodies)
    symbols_at = end if made.symbols else 0
    end += len(made.symbols) + (4 if made.symbols else 0) + len(made.overlay)
    gap = -end % 8
    directories = [(0, 0)] * 16
    if made.resources:
        directories[2] = (0x2000, len(made.resources))
    if made.certificates:
        directories[4] = (end + gap, len(made.certificates))
    file_header = struct.pack(
        "<4sHHIIIHH",
        b"PE\0\0",
        made.machine,
        len(sections),
        made.timestamp,
        symbols_at,
        len(made.symbols) // 18,
        optional_size,
        0x2022,  # Characteristics
    )
    optional = struct.pack(
        "<HBBIIIII",
        0x20B if made.wide else 0x10B,
        14,  # MajorLinkerVersion
        0,  # MinorLinkerVersion
        0x200,  # SizeOfCode
        0,  # SizeOfInitializedData
        0,  # SizeOfUninitializedData
        0x1000,  # AddressOfEntryPoint
        0x1000,  # BaseOfCode
    )
    optional += struct.pack("<Q", 0x10000) if made.wide else struct.pack("<II", 0x2000, 0x10000)
    optional += struct.pack(
        "<IIHHHHHHIIIIHH",
        0x1000,  # SectionAlignment
        FILE_ALIGN,
        4, 0, 0, 0, 4, 0,  # operating system, image and subsystem versions
        0,  # Win32VersionValue
        0x3000,  # SizeOfImage
        headers_size,
        0,  # CheckSum
        made.subsystem,
        0,  # DllCharacteristics
    )  # fmt: skip
    optional += struct.pack("<QQQQ" if made.wide else "<IIII", 0x1000, 0x1000, 0x1000, 0x1000)
    optional += struct.pack("<II", 0, 16)  # LoaderFlags, NumberOfRvaAndSizes
    optional += b"".join(struct.pack("<II", *one) for one in directories)
    assert len(optional) == optional_size
    head = bytearray(stub() + file_header + optional + table)
    head += bytes(headers_size - len(head))
    strings = struct.pack("<I", 4) if made.symbols else b""
    data = bytearray(bytes(head) + bodies + made.symbols + strings + made.overlay)
    if made.certificates:
        data += bytes(gap) + made.certificates
    for at, raw in made.extra.items():
        data[at : at + len(raw)] = raw
    return bytes(data)


def stub() -> bytes:
    """An MZ header of 64 bytes that leads to 80h."""
    return struct.pack(
        "<2s13H8x2H20xI",
        b"MZ",
        0x80,  # bytes in the last page
        1,  # pages
        0,  # relocations
        4,  # header paragraphs
        0,  # least memory
        0xFFFF,  # most memory
        0,  # SS
        0xB8,  # SP
        0,  # checksum
        0,  # IP
        0,  # CS
        0x40,  # relocation table
        0,  # overlay number
        0,  # OEM identifier
        0,  # OEM information
        PE_AT,
    ) + bytes(64)


def certificate(body: bytes = b"\x30\x03\x02\x01\x05") -> bytes:
    """One WIN_CERTIFICATE (PE Format, The Attribute Certificate Table), padded to 8 bytes."""
    raw = struct.pack("<IHH", 8 + len(body), 0x0200, 0x0002) + body
    return raw + bytes(-len(raw) % 8)


def version_resource(
    strings: dict[str, str] | None = None,
    file_version: tuple[int, int, int, int] = (12, 4, 0, 7),
    product_version: tuple[int, int, int, int] = (12, 4, 0, 0),
    address: int = 0x2000,
) -> bytes:
    """A .rsrc section at `address` with one version resource: type 16, name 1, language 0409h."""
    fixed = struct.pack(
        "<13I",
        0xFEEF04BD,
        0x00010000,  # dwStrucVersion
        file_version[0] << 16 | file_version[1],
        file_version[2] << 16 | file_version[3],
        product_version[0] << 16 | product_version[1],
        product_version[2] << 16 | product_version[3],
        0x3F, 0, 0x40004, 1, 0, 0, 0,  # masks, flags, system, type, subtype, date
    )  # fmt: skip
    entries = b""
    for key, value in (strings or {}).items():
        entries += _aligned(_block(key, value.encode("utf-16-le") + b"\0\0", len(value) + 1, 1))
    table = _block("040904B0", entries, 0, 1)
    info = _block("StringFileInfo", table, 0, 1)
    body = _block("VS_VERSION_INFO", fixed + info, len(fixed), 0)
    tree = b""
    for level, name in enumerate((16, 1, 0x0409)):
        offset = 0x18 * (level + 1) | (0x80000000 if level < 2 else 0)
        tree += struct.pack("<IIHHHHII", 0, 0, 0, 0, 0, 1, name, offset)
    tree += struct.pack("<IIII", address + 0x58, len(body), 0, 0)
    return tree + body


def _aligned(raw: bytes) -> bytes:
    return raw + bytes(-len(raw) % 4)


def _block(key: str, value: bytes, value_length: int, kind: int) -> bytes:
    """wLength, wValueLength, wType, szKey, padding to 32 bits, value."""
    head = _aligned(bytes(6) + key.encode("utf-16-le") + b"\0\0")
    return struct.pack("<HHH", len(head) + len(value), value_length, kind) + head[6:] + value
