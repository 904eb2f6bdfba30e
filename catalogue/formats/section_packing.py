"""Sections that hold other sections packed, signed or summed.

PI Specification, volume 3, 3.2.4 (compression section, GUID-defined section); UEFI Specification, chapter 19
(compression). The GUIDs of LZMA and CRC-32 sections as edk2 publishes them (from memory).
"""

from __future__ import annotations

import lzma
import zlib
from dataclasses import dataclass

from catalogue.formats import inner, uefi_compression
from catalogue.formats.limits import MAX_SECTION_UNPACKED, MAX_UNPACKED
from catalogue.formats.rows import efi_guid
from catalogue.formats.view import View

COMPRESSION, GUID_DEFINED = 0x01, 0x02
_LZMA = "EE4E5898-3914-4259-9D6E-DC7BD79403CF"
_CRC32 = "FC1BCDB0-7D31-49AA-936A-A4600D9DD083"
_NAMES = {
    _LZMA: "LZMA",
    _CRC32: "CRC-32",
    "A31280AD-481E-41B6-95E8-127F4C984779": "Tiano-compressed",
    "3D532050-5CDA-4FD0-879E-0F7F630D5AFB": "Brotli",
    "A7717414-C616-4977-9420-844712A735BF": "signed (RSA-2048, SHA-256)",
}
_PROCESSING = 0x01
"""The content cannot be read without what the GUID stands for."""
_LZMA_HEADER = 13
_MEMORY = 96 << 20
"""What LZMA's decoder may use: its dictionary is at most the section's size in practice."""


@dataclass(frozen=True, slots=True)
class Packed:
    """A section that holds others. `start`: they stand plain from there on; `data`: they were unpacked; else `why`."""

    name: str
    start: int | None = None
    data: bytes | None = None
    why: str = ""
    damaged: bool = False


def unpack(view: View, kind: int, start: int, at: int, end: int) -> Packed:
    """What the section at `start`, whose content is [at, end), holds. Raises nothing but the view's own OSError."""
    if kind == COMPRESSION:
        return _compression(view, at, end)
    head = view.at(at, 20)
    guid = efi_guid(head[:16].ljust(16, b"\0"))
    body = start + int.from_bytes(head[16:18], "little")
    attributes = int.from_bytes(head[18:20], "little")
    name = _NAMES.get(guid, f"guid-defined {guid}")
    if len(head) < 20 or not at + 20 <= body <= end:
        return Packed(name, why="A GUID-defined section does not say where its content begins.", damaged=True)
    if guid == _LZMA:
        return _lzma(name, view.at(body, end - body))
    if guid == _CRC32:
        said = int.from_bytes(view.at(body - 4, 4), "little")
        have = zlib.crc32(view.at(body, end - body))
        wrong = f"The CRC-32 of a section is {have:08X}h; it says {said:08X}h." if said != have else ""
        return Packed(name, start=body, why=wrong, damaged=bool(wrong))
    if attributes & _PROCESSING:
        return Packed(name, why=f"A section was not unpacked: {name}.")
    return Packed(name, start=body)


def _compression(view: View, at: int, end: int) -> Packed:
    head = view.at(at, 5)
    kind = head[4] if len(head) == 5 and end - at >= 5 else None
    if kind == 0:
        return Packed("stored", start=at + 5)
    if kind != 1:
        return Packed("compressed", why="A compressed section has no known type of compression.", damaged=True)
    size = int.from_bytes(head[:4], "little")
    name = "UEFI-compressed"
    if size > inner.left_to_unpack():
        return Packed(name, why="A compressed section was not unpacked: too much was already.")
    result = uefi_compression.unpack(view.at(at + 5, end - at - 5), min(MAX_UNPACKED, inner.left_to_unpack()))
    if result.data is None:
        return Packed(name, why=f"A compressed section was not unpacked. {result.why}", damaged=result.damaged)
    inner.was_unpacked(len(result.data))
    if len(result.data) != size:
        why = f"A compressed section unpacks to {len(result.data)} bytes; it says {size}."
        return Packed(name, data=result.data, why=why, damaged=True)
    return Packed(name, data=result.data)


def _lzma(name: str, raw: bytes) -> Packed:
    size = int.from_bytes(raw[5:_LZMA_HEADER], "little")
    if len(raw) < _LZMA_HEADER or size > min(MAX_SECTION_UNPACKED, inner.left_to_unpack()):
        return Packed(name, why=f"An LZMA section that says it has {size} bytes was not unpacked.")
    decoder = lzma.LZMADecompressor(lzma.FORMAT_ALONE, memlimit=_MEMORY)
    try:
        data = decoder.decompress(raw, size)
    except lzma.LZMAError:
        return Packed(name, why="An LZMA section is damaged.", damaged=True)
    except MemoryError:
        return Packed(name, why="An LZMA section needs too much memory and was not unpacked.")
    inner.was_unpacked(len(data))
    if len(data) != size:
        return Packed(name, data=data, why=f"An LZMA section ends after {len(data)} of {size} bytes.", damaged=True)
    return Packed(name, data=data)
