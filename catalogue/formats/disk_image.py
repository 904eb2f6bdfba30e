"""An image of a whole disk: its partitions are its members, and each is read for itself.

UEFI Specification 2.10, 5.2 and 5.3 (see `partition_table`). A file system without partitions is its own reader's.
"""

from __future__ import annotations

from catalogue.formats.disk_files import UNREAD, DiskFile, Listing, reading, settle
from catalogue.formats.partition_table import (
    GPT,
    SIGNATURE,
    SIGNATURE_AT,
    TABLE_AT,
    Partition,
    PartitionTable,
    partition_table,
)
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import PartView, View
from catalogue.shapes.reading import Field, Reading

KIND = "archive/disk"
SOURCE = "UEFI 2.10, 5.2 and 5.3"
_UNREAD = (
    (3, b"NTFS    ", "NTFS"), (3, b"EXFAT   ", "exFAT"), (0x438, b"\x53\xef", "ext2, ext3 or ext4"),
    (0, b"XFSB", "XFS"), (0x10040, b"_BHRfS_M", "Btrfs"), (0, b"LUKS\xba\xbe", "LUKS encryption"),
    (0xFF6, b"SWAPSPACE2", "swap"), (0x218, b"LVM2 001", "LVM"), (0x400, b"\x10\x20\xf5\xf2", "F2FS"),
    (0, b"hsqs", "Squashfs"),
)  # fmt: skip
"""Offset, magic and name of file systems that are not read (from memory; the tests hold some against their makers)."""


def looks_like(view: View) -> Looks:
    """MAYBE where the entries of a partition table could stand in the first sector, or a GPT header behind it."""
    return Looks.MAYBE if view.at(SIGNATURE_AT, 2) == SIGNATURE or _may_be_gpt(view) else Looks.NO


def maybe(data: bytes) -> bool:
    """Whether `looks_like` could say anything but NO."""
    return data[SIGNATURE_AT:512] == SIGNATURE or data[512:520] == GPT or data[4096:4104] == GPT


def read(view: View) -> Reading | None:
    """The disk whose image `view` is; None where its first sectors hold no partition table that could be right."""
    listing = files(view)
    if listing is None:
        return None
    scheme = "GPT" if listing.fields[0].value == "gpt" else "MBR"
    made = reading(listing, "disk", KIND, f"Disk image with {scheme}")
    count = len(listing.files)
    title = f"Disk image of {count} partition{'' if count == 1 else 's'} ({scheme})"
    return Reading(
        made.format, made.kind, title, length=made.length, fields=made.fields, faults=made.faults, notes=made.notes,
        members=made.members, spans=made.spans,
    )  # fmt: skip


def files(view: View) -> Listing | None:
    """The partitions as members; None where there is no table."""
    table = partition_table(view)
    if table is None or (table.scheme == "mbr" and not _believable(view, table)):
        return None
    listing = Listing(view)
    listing.fields.append(Field("scheme", table.scheme, None, 0, "How the disk is partitioned", SOURCE))
    listing.fields.append(Field("sector_bytes", table.sector, None, 0, "Bytes of one sector", SOURCE))
    for text, at in table.faults:
        listing.damaged(text, at)
    listing.span("master boot record", 0, 512)
    if table.scheme == "gpt":
        listing.span("partition table", table.sector, table.sector * 33 if table.sector == 512 else table.sector * 5)
    for one in table.partitions:
        _add(listing, one)
    settle(listing, links=False)
    return listing


def partition_file(view: View, one: Partition) -> tuple[DiskFile, int]:
    """A partition as a member, as far as it is there, and how many of its bytes are missing."""
    there = max(0, min(one.length, view.size - one.offset))
    extents = ((one.offset, there),) if there else ()
    made = DiskFile(f"partition-{one.number}.img", there, extents, listed_at=one.listed_at)
    return made, one.length - there


def unread_file_system(view: View) -> str:
    """What file system begins `view`, of those that are not read; "" for none of them."""
    for at, magic, name in _UNREAD:
        if view.at(at, len(magic)) == magic:
            return name
    return ""


def _add(listing: Listing, one: Partition) -> None:
    made, missing = partition_file(listing.view, one)
    said = f"{one.type}, {one.length} bytes from {one.offset}" + (f", called {one.label}" if one.label else "")
    field = Field(f"partition_{one.number}", said[:200], one.listed_at, 16, "What the table says of it", SOURCE)
    if one.listed_at + 16 <= listing.view.size:
        listing.fields.append(field)
    if missing:
        listing.damaged(
            f"Partition {one.number} lacks its last {missing} bytes: the image is cut short.", one.listed_at
        )
    unread = unread_file_system(PartView(listing.view, one.offset, one.length))
    if unread:
        listing.odd(f"Partition {one.number} holds {unread}, which is not read.", one.offset, UNREAD)
    listing.add(made)


def _may_be_gpt(view: View) -> bool:
    return view.at(512, 8) == GPT or view.at(4096, 8) == GPT


def _believable(view: View, table: PartitionTable) -> bool:
    """Whether more than a few bytes speak for a table that has no checksum: something known begins a partition, or
    all lie inside the image and the sector's own table is in order."""
    from catalogue.formats.fat_boot import boot

    inside = True
    for one in table.partitions[:16]:
        part = PartView(view, one.offset, one.length)
        if boot(part) is not None or unread_file_system(part):
            return True
        inside = inside and one.offset + one.length <= view.size
    # A table in order has no bytes in the entries it does not use, and its disk is large enough for a track.
    raw = view.at(TABLE_AT, 64)
    clean = all(raw[at + 4] or not any(raw[at : at + 16]) for at in range(0, 64, 16))
    return bool(table.partitions) and inside and clean


READER = Reader(
    name="disk",
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    maybe=maybe,
    version=1,
    source="UEFI 2.10, 5.2 and 5.3",
    depth="MBR with logical partitions and GPT with both its headers and CRCs; each partition read for itself; file "
    "systems that are not read are named",
)
