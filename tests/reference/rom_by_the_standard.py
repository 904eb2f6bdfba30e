"""A second reader of option ROMs, written from the standard alone, to compare ours with.

PCI Firmware Specification 3.0, section 5.1: header (5.1.1), PCI Data Structure (5.1.2), code type 0 (5.1.4);
UEFI Specification, EFI PCI Expansion ROM Header. It knows well-formed ROMs only and shares nothing with ours.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator


def images(rom: bytes) -> Iterator[dict[str, object]]:
    """What each image says, in the names of the command line's contract."""
    at = 0
    while True:
        magic, size = struct.unpack_from("<HB", rom, at)
        assert magic == 0xAA55
        (pcir,) = struct.unpack_from("<H", rom, at + 0x18)
        if pcir == 0 or rom[at + pcir : at + pcir + 4] != b"PCIR":
            yield {
                "offset": at,
                "length": size * 512,
                "initialisation_size": size * 512,
                "checksum_ok": sums_to_zero(rom, at, size * 512),
            }
            return
        vendor, device, pointer, _, revision, class_low, class_high, length, code, kind, indicator = struct.unpack_from(
            "<HHHHBBHHHBB", rom, at + pcir + 4
        )
        found: dict[str, object] = {
            "offset": at,
            "length": length * 512,
            "code_type": kind,
            "vendor_id": vendor,
            "device_id": device,
            "device_list": devices(rom, at + pcir + pointer) if revision == 3 and pointer else (),
            "class_code": class_high << 8 | class_low,
            "structure_revision": revision,
            "code_revision": code,
            "last_image": indicator >= 0x80,
        }
        if kind == 0:
            found["initialisation_size"] = size * 512
            found["checksum_ok"] = sums_to_zero(rom, at, size * 512)
        if kind == 3:
            units, signature, subsystem, machine, compression = struct.unpack_from("<HIHHH", rom, at + 2)
            assert signature == 0x0EF1
            found["initialisation_size"] = units * 512
            found["efi_subsystem"], found["efi_machine"], found["efi_compression"] = subsystem, machine, compression
            (found["efi_image_offset"],) = struct.unpack_from("<H", rom, at + 0x16)
        yield found
        at += length * 512
        if indicator >= 0x80:
            return


def sums_to_zero(rom: bytes, start: int, length: int) -> bool:
    """5.1.4: the bytes of the initialisation size, added one by one, are 0 modulo 256."""
    total = 0
    for byte in rom[start : start + length]:
        total = (total + byte) % 256
    return total == 0


def devices(rom: bytes, at: int) -> tuple[int, ...]:
    """5.1.2: 16-bit device IDs, closed by 0000h."""
    found = []
    while (device := struct.unpack_from("<H", rom, at)[0]) != 0:
        found.append(device)
        at += 2
    return tuple(found)
