"""Device trees, DFU files and UF2 files for tests, from their specifications; the readers have no part in them.

Devicetree Specification 0.4, chapter 5; USB DFU 1.1, appendix B; UF2 specification.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping

from tests.formats.build_pldm import crc

Properties = Mapping[str, bytes]


def padded(raw: bytes) -> bytes:
    return raw.ljust((len(raw) + 3) // 4 * 4, b"\0")


class Names:
    """The strings block while it grows."""

    def __init__(self) -> None:
        self.raw = b""

    def offset(self, name: str) -> bytes:
        key = name.encode() + b"\0"
        if key not in self.raw:
            self.raw += key
        return struct.pack(">I", self.raw.index(key))


def tokens(names: Names, name: str, properties: Properties, *children: bytes) -> bytes:
    raw = struct.pack(">I", 1) + padded(name.encode() + b"\0")
    for key, value in properties.items():
        raw += struct.pack(">II", 3, len(value)) + names.offset(key) + padded(value)
    return raw + b"".join(children) + struct.pack(">I", 2)


def tree(structure: bytes, names: Names, end: bytes = struct.pack(">I", 9), version: int = 17) -> bytes:
    structure += end
    at = 40 + 16
    strings = at + len(structure)
    total = strings + len(names.raw)
    head = struct.pack(">10I", 0xD00DFEED, total, at, strings, 40, version, 16, 0, len(names.raw), len(structure))
    return head + bytes(16) + structure + names.raw


def card_tree() -> bytes:
    names = Names()
    flash = tokens(names, "flash@0", {"reg": struct.pack(">II", 0, 0x10000), "label": b"boot\0"})
    inside = {"#address-cells": struct.pack(">I", 1), "mac-address": bytes(6), "dma-coherent": b""}
    bus = tokens(names, "bus", inside, flash)
    root = {"model": b"Corvane Heron\0", "compatible": b"corvane,heron\0corvane,card\0"}
    return tree(tokens(names, "", root, bus), names)


def image_tree(data: bytes) -> bytes:
    names = Names()
    one = tokens(names, "firmware-1", {"description": b"Heron firmware\0", "data": data})
    images = tokens(names, "images", {}, one)
    chosen = tokens(names, "configurations", {"default": b"c1\0"})
    return tree(tokens(names, "", {"description": b"Heron\0"}, images, chosen), names)


def dfu(firmware: bytes, vendor: int = 0xF234, product: int = 0x64, wrong: int = 0, release: int = 0x100) -> bytes:
    raw = firmware + struct.pack("<HHHH", 0x0203, product, vendor, release) + b"UFD\x10"
    return raw + struct.pack("<I", crc(raw) ^ 0xFFFFFFFF ^ wrong)


def uf2(data: bytes, address: int = 0x2000, size: int = 256, flags: int = 0x2000, tags: bytes = b"") -> bytes:
    count = (len(data) + size - 1) // size
    out = b""
    for number in range(count):
        body = data[number * size : (number + 1) * size]
        more = padded(body) + tags if not number else body
        use = flags | (0x8000 if tags else 0)
        place = address + number * size
        head = struct.pack("<8I", 0x0A324655, 0x9E5D5157, use, place, len(body), number, count, 7)
        out += head + more.ljust(476, b"\0") + struct.pack("<I", 0x0AB16F30)
    return out


def tag(kind: int, text: bytes) -> bytes:
    return padded(bytes([4 + len(text)]) + kind.to_bytes(3, "little") + text)
