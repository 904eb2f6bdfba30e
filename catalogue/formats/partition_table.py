"""Partition tables: where the partitions of a disk image lie, and what they say they hold.

UEFI Specification 2.10, 5.2 (master boot record, Table 5-1) and 5.3 (GUID partition table, Tables 5-5 and 5-6). The
chain of logical partitions stands in no published standard (common practice, no published source).
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, field
from itertools import pairwise
from struct import Struct

from catalogue.formats.limits import MAX_PARTITIONS
from catalogue.formats.rows import efi_guid
from catalogue.formats.view import View

TABLE_AT, ENTRY_BYTES, SIGNATURE_AT = 446, 16, 510
SIGNATURE = b"\x55\xaa"
GPT = b"EFI PART"
_GPT_SECTORS = (512, 4096)
_ENTRY = Struct("<B3sB3sLL")
_HEADER = Struct("<8sLLLLQQQQ16sQLLL")
_PROTECTIVE = 0xEE
_EXTENDED = frozenset((0x05, 0x0F, 0x85))
_MOST_ENTRIES, _MOST_ENTRY_BYTES = 1_024, 4_096
_UNUSED = bytes(16)
TYPES = {
    0x01: "FAT12", 0x04: "FAT16", 0x06: "FAT16", 0x07: "NTFS or exFAT", 0x0B: "FAT32", 0x0C: "FAT32", 0x0E: "FAT16",
    0x11: "hidden FAT12", 0x14: "hidden FAT16", 0x16: "hidden FAT16", 0x1B: "hidden FAT32", 0x1C: "hidden FAT32",
    0x1E: "hidden FAT16", 0x82: "Linux swap", 0x83: "Linux", 0x8E: "Linux LVM", 0xA5: "BSD", 0xEF: "EFI system",
    0xFD: "Linux RAID",
}  # fmt: skip
"""Type bytes of MBR entries (EFh: UEFI 5.2.2; the others are common practice, no published source)."""
GUIDS = {
    "C12A7328-F81F-11D2-BA4B-00A0C93EC93B": "EFI system",  # UEFI 5.3.3
    "EBD0A0A2-B9E5-4433-87C0-68B6B72699C7": "basic data",  # from memory
    "0FC63DAF-8483-4772-8E79-3D69D8477DE4": "Linux",  # Discoverable Partitions Specification
    "0657FD6D-A4AB-43C4-84E5-0933C84B4F4F": "Linux swap",  # the same
    "21686148-6449-6E6F-744E-656564454649": "BIOS boot",  # from memory
}


@dataclass(frozen=True, slots=True)
class Partition:
    """One partition: bytes `offset` to `offset + length` of the image as its entry at `listed_at` says.

    `number` counts as the table does, `type` is in words or hex digits, `label` the name a GPT gives it.
    """

    number: int
    offset: int
    length: int
    type: str
    listed_at: int
    label: str = ""


@dataclass(slots=True)
class PartitionTable:
    """A whole table: `scheme` is "mbr" or "gpt". `faults` are (text, offset)."""

    scheme: str
    sector: int
    partitions: list[Partition] = field(default_factory=list)
    faults: list[tuple[str, int]] = field(default_factory=list)


def partition_table(view: View) -> PartitionTable | None:
    """The partition table of a disk image; None where there is none that could be right."""
    if view.at(SIGNATURE_AT, 2) == SIGNATURE:
        entries = _entries(view, 0)
        if entries is None:
            return None
        if any(one[1] == _PROTECTIVE for one in entries):
            return _gpt(view) or _mbr(view, entries)
        return _mbr(view, entries)
    return _gpt(view)


def hybrid_partitions(view: View) -> list[Partition]:
    """The partitions that the table in an ISO 9660 image's system area lists; they may overlap and begin anywhere."""
    if view.at(SIGNATURE_AT, 2) != SIGNATURE:
        return []
    entries = _entries(view, 0)
    if not entries:
        return []
    if any(one[1] == _PROTECTIVE for one in entries):
        table = _gpt(view)
        if table is not None and table.partitions:
            return table.partitions
    return [
        Partition((at - TABLE_AT) // ENTRY_BYTES + 1, start * 512, sectors * 512, _type(kind), at)
        for at, kind, start, sectors in entries
        if kind not in _EXTENDED and kind != _PROTECTIVE
    ]


def _entries(view: View, at: int) -> list[tuple[int, int, int, int]] | None:
    """(where it stands, type, start, sectors) of the four entries that are used; None where one cannot be an entry."""
    raw = view.at(at + TABLE_AT, 64)
    found: list[tuple[int, int, int, int]] = []
    for index in range(4):
        flag, _, kind, _, start, sectors = _ENTRY.unpack_from(raw, index * ENTRY_BYTES)
        if flag not in (0, 0x80):
            return None
        if kind == 0 and sectors == 0:
            continue
        if sectors == 0:
            return None
        found.append((at + TABLE_AT + index * ENTRY_BYTES, kind, start, sectors))
    return found


def _mbr(view: View, entries: list[tuple[int, int, int, int]]) -> PartitionTable | None:
    """The master boot record's table; None unless its first partition begins inside the image, and none overlap."""
    if not entries:
        return None
    spans = sorted((start, start + sectors) for _, _, start, sectors in entries)
    apart = all(before[1] <= after[0] for before, after in pairwise(spans))
    if spans[0][0] == 0 or not apart or spans[0][0] * 512 >= view.size:
        return None
    table = PartitionTable("mbr", 512)
    for at, kind, start, sectors in entries:
        if kind in _EXTENDED:
            _logical(view, table, start, sectors)
        else:
            number = (at - TABLE_AT) // ENTRY_BYTES + 1
            table.partitions.append(Partition(number, start * 512, sectors * 512, _type(kind), at))
    table.partitions.sort(key=lambda one: one.number)
    return table


def _logical(view: View, table: PartitionTable, first: int, sectors: int) -> None:
    """The logical partitions of an extended one: each has a record of its own, with the next one's place in it."""
    seen: set[int] = set()
    here = first
    number = 5
    while True:
        if here in seen:
            table.faults.append(("Its chain of logical partitions runs in a circle.", here * 512))
            return
        seen.add(here)
        if len(table.partitions) >= MAX_PARTITIONS:
            table.faults.append((f"It has more than {MAX_PARTITIONS} partitions; the rest was not read.", here * 512))
            return
        record = view.at(here * 512 + SIGNATURE_AT, 2)
        entries = _entries(view, here * 512) if record == SIGNATURE else None
        if entries is None:
            table.faults.append(("Its chain of logical partitions breaks off.", min(here * 512, view.size)))
            return
        following = 0
        for at, kind, start, length in entries[:2]:
            if kind in _EXTENDED:
                following = first + start
            else:
                table.partitions.append(Partition(number, (here + start) * 512, length * 512, _type(kind), at))
                number += 1
        if not following:
            return
        if not first < following < first + sectors:
            table.faults.append(("Its chain of logical partitions leaves the extended one.", here * 512))
            return
        here = following


def _type(kind: int) -> str:
    return TYPES.get(kind, f"type {kind:02X}h")


def _gpt(view: View) -> PartitionTable | None:
    """The GUID partition table, by its first header or, where that is damaged, its second."""
    for sector in _GPT_SECTORS:
        first = _header(view, sector, sector)
        if first is not None and not first.faults:
            _other_header(view, first)
            return first
        last = view.size // sector - 1
        second = _header(view, last * sector, sector) if last > 1 else None
        if second is not None and not second.faults:
            second.faults.append(("Its first partition table is damaged; the second one was read.", sector))
            return second
        if first is not None:
            return first
    return None


def _header(view: View, at: int, sector: int) -> PartitionTable | None:
    raw = view.at(at, _HEADER.size)
    if len(raw) < _HEADER.size or raw[:8] != GPT:
        return None
    _, _, size, crc, _, here, _, _, _, _, array, count, length, array_crc = _HEADER.unpack(raw)
    if not _HEADER.size <= size <= sector:
        return None
    table = PartitionTable("gpt", sector)
    whole = view.at(at, size)
    if zlib.crc32(whole[:16] + bytes(4) + whole[20:]) != crc or here * sector != at:
        table.faults.append(("The header of its partition table is damaged (CRC or place).", at))
    if count > _MOST_ENTRIES or not 128 <= length <= _MOST_ENTRY_BYTES:
        table.faults.append((f"Its partition table has {count} entries of {length} bytes, which is not read.", at + 80))
        return table
    entries = view.at(array * sector, count * length)
    if zlib.crc32(entries) != array_crc:
        table.faults.append(("The entries of its partition table are damaged (CRC).", min(array * sector, view.size)))
    for index in range(len(entries) // length):
        one = entries[index * length : (index + 1) * length]
        if one[:16] == _UNUSED:
            continue
        start, stop = int.from_bytes(one[32:40], "little"), int.from_bytes(one[40:48], "little")
        guid = efi_guid(one[:16])
        where = array * sector + index * length
        if stop < start:
            table.faults.append((f"Partition {index + 1} ends before it begins.", where))
            continue
        if len(table.partitions) >= MAX_PARTITIONS:
            table.faults.append((f"It has more than {MAX_PARTITIONS} partitions; the rest was not read.", where))
            break
        label = one[56:128].decode("utf-16-le", "surrogatepass").partition("\0")[0]
        bytes_ = (stop - start + 1) * sector
        kind = GUIDS.get(guid, guid)
        table.partitions.append(Partition(index + 1, start * sector, bytes_, kind, where, label))
    return table


def _other_header(view: View, table: PartitionTable) -> None:
    """Say where the second header is missing or tells another story."""
    at = int.from_bytes(view.at(table.sector + 32, 8), "little") * table.sector
    other = _header(view, at, table.sector)
    if other is None:
        table.faults.append(("Its second partition table is missing.", min(at, view.size)))
    elif other.faults or [(one.offset, one.length) for one in other.partitions] != [
        (one.offset, one.length) for one in table.partitions
    ]:
        table.faults.append(("Its two partition tables disagree; the first one was read.", at))
