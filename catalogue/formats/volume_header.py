"""The header of a UEFI firmware volume, its block map and its extended header.

PI Specification, volume 3, 3.2.1 (EFI_FIRMWARE_VOLUME_HEADER, EFI_FIRMWARE_VOLUME_EXT_HEADER).
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from catalogue.formats.limits import MAX_BLOCK_MAP
from catalogue.formats.rows import Kind, Row, efi_guid, number, read_rows
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field

SOURCE = "PI Specification, volume 3, 3.2.1"
SIGNATURE = b"_FVH"
SIGNATURE_AT = 0x28
LEAST = 0x38 + 16
"""The header with a block map of one entry and its end."""
_FFS1 = bytes.fromhex("D954937A68044A4481CE0BF617D890DF")
_FFS2 = bytes.fromhex("78E58C8C3D8A1C4F9935896185C32DD3")
_FFS3 = bytes.fromhex("7AC07354CB3DCA4DBD6F1E9689E7349A")
_VARIABLES = bytes.fromhex("8D2BF1FF96768B4CA9852747075B4F50")
SYSTEMS = {_FFS1: "FFS1", _FFS2: "FFS2", _FFS3: "FFS3", _VARIABLES: "variable store"}
"""3.2.2 (FFS2, FFS3); the first version of the file system and the variables' GUID from memory."""
_ROWS = (
    Row("file_system", 0x10, 16, Kind.GUID, SOURCE, "What the volume holds"),
    Row("volume_length", 0x20, 8, Kind.LE, SOURCE, "Bytes of the volume"),
    Row("signature", 0x28, 4, Kind.TEXT, SOURCE, "Marks a firmware volume"),
    Row("attributes", 0x2C, 4, Kind.LE, SOURCE, "Bit 11: erased bits are 1"),
    Row("header_length", 0x30, 2, Kind.LE, SOURCE, "Bytes of the header with its block map"),
    Row("checksum", 0x32, 2, Kind.LE, SOURCE, "Makes the header's 16-bit words sum to 0"),
    Row("extended_header", 0x34, 2, Kind.LE, SOURCE, "Where the extended header stands; 0 for none"),
    Row("revision", 0x37, 1, Kind.LE, SOURCE, "2"),
)
_MAP_AT = 0x38
_ERASED_ONES = 0x800
_MOST_HEADER = 0x1000
_EXTENDED = 20


@dataclass(frozen=True, slots=True)
class Header:
    """One header: its fields, the volume's length, where its files begin (counted from its start).

    `erased` is the byte that erased space holds; `large`: files above 16 MiB may stand in it.
    """

    fields: tuple[Field, ...]
    length: int
    system: str
    has_files: bool
    files_at: int
    erased: int
    large: bool
    faults: tuple[Fault, ...]


def is_sound(view: View, at: int) -> bool:
    """Whether a header stands at `at` whose lengths make sense and whose sum holds (the four letters are no proof)."""
    head = view.at(at, LEAST)
    if len(head) < LEAST or head[SIGNATURE_AT : SIGNATURE_AT + 4] != SIGNATURE:
        return False
    size = int.from_bytes(head[0x30:0x32], "little")
    length = int.from_bytes(head[0x20:0x28], "little")
    return size % 2 == 0 and LEAST <= size <= min(length, _MOST_HEADER) and _sum(view.at(at, size), size) == 0


def _sum(raw: bytes, size: int) -> int:
    if len(raw) < size:
        return 1
    words: tuple[int, ...] = struct.unpack(f"<{size // 2}H", raw)
    return sum(words) & 0xFFFF


def header_at(view: View, at: int) -> Header:
    """The header at `at`, where at least the signature stands."""
    found = read_rows(_ROWS, view, at)
    fields = list(found.values())
    size, length = number(found, "header_length"), number(found, "volume_length")
    faults: list[Fault] = []
    sound = is_sound(view, at)
    fields.append(Field("checksum_ok", sound, None, 0, "Whether the header's words sum to 0", SOURCE))
    if not sound:
        faults.append(
            Fault("volume-damaged", "The volume's header does not sum to 0, or its lengths make no sense.", at)
        )
    blocks: list[str] = []
    raw = view.at(at + _MAP_AT, max(0, min(size, _MOST_HEADER) - _MAP_AT))
    covered = 0
    for place in range(0, len(raw) - 7, 8):
        count, block = struct.unpack_from("<II", raw, place)
        if not count and not block:
            break
        covered += count * block
        if len(blocks) < MAX_BLOCK_MAP:
            blocks.append(f"{count} x {block}")
    meaning = "Blocks of the chip: how many, of how many bytes"
    if raw:
        fields.append(Field("block_map", tuple(blocks), at + _MAP_AT, len(raw), meaning, SOURCE))
    if sound and covered != length:
        faults.append(
            Fault("volume-damaged", f"The block map covers {covered} bytes, the volume has {length}.", at + 32)
        )
    files_at = size
    extended = number(found, "extended_header")
    if extended:
        files_at = _extended(view, at, extended, length, fields, faults, size)
    kind = view.at(at + 16, 16)
    return Header(
        fields=tuple(fields),
        length=length,
        system=SYSTEMS.get(kind, f"file system {found['file_system'].value}" if "file_system" in found else "cut"),
        has_files=kind in (_FFS1, _FFS2, _FFS3) and sound,
        files_at=files_at,
        erased=0xFF if number(found, "attributes") & _ERASED_ONES else 0,
        large=kind == _FFS3,
        faults=tuple(faults),
    )


def _extended(
    view: View, at: int, offset: int, length: int, fields: list[Field], faults: list[Fault], size: int
) -> int:
    """Add the extended header; answers where files begin behind it."""
    raw = view.at(at + offset, _EXTENDED)
    bytes_long = int.from_bytes(raw[16:], "little")
    if len(raw) < _EXTENDED or offset < size or not _EXTENDED <= bytes_long <= length - offset:
        faults.append(Fault("volume-damaged", "The extended header does not lie in the volume.", at + 0x34))
        return size
    source = f"{SOURCE}, extended header"
    fields += (
        Field("volume_name", efi_guid(raw[:16]), at + offset, 16, "GUID by which the volume is known", source),
        Field("extended_length", bytes_long, at + offset + 16, 4, "Bytes of the extended header", source),
    )
    return (offset + bytes_long + 7) // 8 * 8
