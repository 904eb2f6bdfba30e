"""PCI option ROM images (PCI Firmware Specification r3.x, 5.1; UEFI Specification, PCI option ROMs)."""

from __future__ import annotations

import struct
from dataclasses import dataclass

UNIT = 512
LEGACY, EFI = 0, 3  # PCIR+14h, code type
_PCIR, _PCIR_LENGTH = 0x20, 0x1C
_LAST = 0x80


@dataclass(frozen=True, slots=True)
class Card:
    """What an image says of the card it is for: IDs, further device IDs, class (24 bits), code revision."""

    vendor: int
    device: int
    class_code: int
    devices: tuple[int, ...] = ()
    revision: int = 0x0100


def _data_structure(card: Card, units: int, code_type: int, last: bool) -> bytes:
    """The PCI Data Structure, revision 3, with its device list right behind it where the card has one."""
    listed = _PCIR_LENGTH if card.devices else 0
    fixed = struct.pack("<4sHHHHB3sHHBBHHH", b"PCIR", card.vendor, card.device, listed, _PCIR_LENGTH, 3,
                        card.class_code.to_bytes(3, "little"), units, card.revision, code_type,
                        _LAST if last else 0, units, 0, 0)
    if not card.devices:
        return fixed
    return fixed + struct.pack(f"<{len(card.devices) + 1}H", *card.devices, 0)


def _balanced(data: bytearray, at: int) -> None:
    """Set the byte at `at` so that all bytes sum to 0 modulo 256."""
    data[at] = 0
    data[at] = -sum(data) & 0xFF


def _expansion_header(at: int, maker_at: int, product_at: int, class_code: int, entry: int) -> bytes:
    """"$PnP" (Plug and Play BIOS Specification 1.0A, 3.2; BIOS Boot Specification 1.01)."""
    kind = class_code.to_bytes(3, "big")
    boot = (0, entry) if kind[0] == 2 else (entry, 0)  # a network card has a bootstrap entry, a disk card a BCV
    header = bytearray(struct.pack("<4sBBHBBIHH3sBHHHHH", b"$PnP", 1, 2, 0, 0, 0, 0, maker_at, product_at, kind,
                                   0x64, boot[0], 0, boot[1], 0, 0))
    _balanced(header, 9)
    return bytes(header)


def _undi(entry: int) -> bytes:
    """The UNDI ROM ID structure (Preboot Execution Environment 2.1, 4.2; field order from memory)."""
    body = bytearray(struct.pack("<4sBBBBBBHHHH4s", b"UNDI", 22, 0, 0, 0, 1, 2, entry, 0x0800, 0x1000, 0x2000, b"PCIR"))
    _balanced(body, 5)
    return bytes(body)


def legacy(card: Card, maker: str, product: str, text: str, ballast: bytes, *, last: bool = True) -> bytes:
    """A legacy x86 image: a start-up entry that returns at once, "$PnP", texts, `ballast`, and a right checksum.

    A network card's (class 02h) also has the "UNDI" structure.
    """
    head = bytearray(0x140)
    strings = bytearray()
    places = []
    for one in (maker, product, text):
        places.append(0x140 + len(strings))
        strings += one.encode("ascii") + b"\0"
    entry = 0x140 + len(strings)
    code = bytes.fromhex("31c0 cb 90")  # xor ax,ax; retf: nothing to hook
    units = -(-(entry + len(code) + len(ballast) + 1) // UNIT)
    head[0:3] = b"\x55\xaa" + bytes([units])
    head[3:6] = b"\xe9" + struct.pack("<h", entry - 6)
    struct.pack_into("<HH", head, 0x18, _PCIR, 0xC0)
    structure = _data_structure(card, units, LEGACY, last)
    head[_PCIR : _PCIR + len(structure)] = structure
    head[0xC0:0xE0] = _expansion_header(0xC0, places[0], places[1], card.class_code, entry)
    if card.class_code >> 16 == 2:
        struct.pack_into("<H", head, 0x16, 0xF0)
        head[0xF0:0x106] = _undi(entry)
    image = bytearray((bytes(head) + bytes(strings) + code + ballast).ljust(units * UNIT, b"\0"))
    _balanced(image, len(image) - 1)
    return bytes(image)


def efi(card: Card, driver: bytes, *, last: bool = True, subsystem: int = 11, machine: int = 0x8664) -> bytes:
    """An EFI image around an uncompressed `driver`; the rest of the last unit is FFh."""
    structure = _data_structure(card, 0, EFI, last)
    at = -(-(_PCIR + len(structure)) // 16) * 16
    units = -(-(at + len(driver)) // UNIT)
    head = bytearray(at)
    struct.pack_into("<2sHIHHH", head, 0, b"\x55\xaa", units, 0x0EF1, subsystem, machine, 0)
    struct.pack_into("<HH", head, 0x16, at, _PCIR)
    structure = _data_structure(card, units, EFI, last)
    head[_PCIR : _PCIR + len(structure)] = structure
    return (bytes(head) + driver).ljust(units * UNIT, b"\xff")
