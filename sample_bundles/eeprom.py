"""Configuration EEPROM images of the invented makers (the layouts stand in resources/families)."""

from __future__ import annotations

import struct

from sample_bundles.noise import noise


def crc16(data: bytes) -> int:
    """CRC-16/ARC: polynomial 8005h reflected, start 0; "123456789" gives BB3Dh."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ 0xA001 if crc & 1 else crc >> 1
    return crc


def bittern(device: int, address: int | None = None, serial: str = "", *, magic: str = "C01208A5", size: int = 320,
            vendor: int = 0xF234, label: str = "bittern settings") -> bytes:
    """A Bittern's image. Without `address` and `serial` it is a template: those fields hold FFh.

    Sum: the byte at the end brings the sum of all bytes to 0.
    """
    image = bytearray(noise(label, size))
    image[0:4] = bytes.fromhex(magic)
    struct.pack_into("<HH", image, 0x10, vendor, device)
    image[0x40:0x48] = b"\xff" * 8 if address is None else address.to_bytes(8, "big")
    image[0x60:0x70] = serial.encode("ascii").ljust(16, b"\0") if serial else b"\xff" * 16
    image[-1] = 0
    image[-1] = -sum(image) & 0xFF
    return bytes(image)


def heron(device: int, address: int | None = None, serial: str = "", *, magic: str = "C012065A", size: int = 192,
          vendor: int = 0xF234, label: str = "heron settings") -> bytes:
    """A Heron's image: IDs big-endian; the last two bytes hold the CRC-16 of all before them, little-endian."""
    image = bytearray(noise(label, size))
    image[0:4] = bytes.fromhex(magic)
    struct.pack_into(">HH", image, 0x08, vendor, device)
    image[0x20:0x28] = bytes(8) if address is None else address.to_bytes(8, "big")
    image[0x30:0x3C] = serial.encode("ascii").ljust(12, b"\0") if serial else bytes(12)
    struct.pack_into("<H", image, size - 2, crc16(bytes(image[: size - 2])))
    return bytes(image)


def swapped(data: bytes) -> bytes:
    """Each pair of bytes the other way round, as a programmer set to 16 bits saves it."""
    return b"".join(data[at : at + 2][::-1] for at in range(0, len(data), 2))
