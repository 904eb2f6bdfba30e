"""The boot sector of a FAT file system: where its tables, root folder and clusters lie.

Microsoft FAT32 File System Specification 1.03 (2000), "Boot Sector and BPB", "FAT Type Determination"; ECMA-107 names
the same fields for FAT12 and FAT16.
"""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.formats.rows import Found, Kind, Row, number, read_rows
from catalogue.formats.view import View

_BPB = "Microsoft FAT 1.03, Boot Sector and BPB"
SECTORS = (512, 1024, 2048, 4096)
MEDIA = frozenset((0xF0, *range(0xF8, 0x100)))
SIGNATURE = b"\x55\xaa"
SIGNATURE_AT = 510
BACKUP_AT = 6 * 512
"""Where FAT32 keeps a second boot sector: sector 6 ("BPB_BkBootSec": no value other than 6 is recommended)."""
ENTRY_BYTES = 32
_FAT32 = b"FAT32   "
_FEW12, _FEW16 = 4_085, 65_525
"""Counts of clusters from which on a file system is FAT16, and FAT32."""

ROWS = (
    Row("oem_name", 3, 8, Kind.TEXT, _BPB, "Which program formatted it, as a rule"),
    Row("sector_bytes", 11, 2, Kind.LE, _BPB, "Bytes of one sector"),
    Row("cluster_sectors", 13, 1, Kind.LE, _BPB, "Sectors of one cluster"),
    Row("reserved_sectors", 14, 2, Kind.LE, _BPB, "Sectors before the first table"),
    Row("tables", 16, 1, Kind.LE, _BPB, "Copies of the file allocation table"),
    Row("root_entries", 17, 2, Kind.LE, _BPB, "Entries of the root folder; 0 on FAT32"),
    Row("total_sectors_16", 19, 2, Kind.LE, _BPB, "Sectors in all; 0 where they do not fit"),
    Row("media", 21, 1, Kind.LE, _BPB, "Medium: F8h fixed, F0h removable"),
    Row("table_sectors_16", 22, 2, Kind.LE, _BPB, "Sectors of one table; 0 on FAT32"),
    Row("hidden_sectors", 28, 4, Kind.LE, _BPB, "Sectors before the partition, as the formatter said"),
    Row("total_sectors_32", 32, 4, Kind.LE, _BPB, "Sectors in all, where they do not fit above"),
)
ROWS_16 = (
    Row("volume_id", 39, 4, Kind.LE, _BPB, "Serial number of the volume"),
    Row("boot_label", 43, 11, Kind.TEXT, _BPB, "Label as the boot sector has it"),
    Row("type_name", 54, 8, Kind.TEXT, _BPB, "Type by name; the count of clusters decides"),
)
ROWS_32 = (
    Row("table_sectors_32", 36, 4, Kind.LE, _BPB, "Sectors of one table"),
    Row("table_flags", 40, 2, Kind.LE, _BPB, "Bit 7: only one table is used, bits 0-3 say which"),
    Row("file_system_version", 42, 2, Kind.LE, _BPB, "0 is the only one there is"),
    Row("root_cluster", 44, 4, Kind.LE, _BPB, "First cluster of the root folder"),
    Row("information_sector", 48, 2, Kind.LE, _BPB, "Sector of the counts of free clusters"),
    Row("backup_sector", 50, 2, Kind.LE, _BPB, "Sector of the second boot sector"),
    Row("volume_id", 67, 4, Kind.LE, _BPB, "Serial number of the volume"),
    Row("boot_label", 71, 11, Kind.TEXT, _BPB, "Label as the boot sector has it"),
    Row("type_name", 82, 8, Kind.TEXT, _BPB, "Type by name; the count of clusters decides"),
)
_SIGNED = 0x29
"""BS_BootSig: number, label and type follow."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Where things lie, in bytes from the start of the file system. `bits` is 12, 16 or 32, `clusters` their count.

    `boot_at` is where the boot sector was read (0, or BACKUP_AT); `whole` whether jump and signature were both there.
    """

    found: Found
    boot_at: int
    whole: bool
    bits: int
    sector: int
    cluster: int
    tables: int
    active: int
    mirrored: bool
    table_offset: int
    table_bytes: int
    root_offset: int
    root_bytes: int
    root_cluster: int
    data_offset: int
    clusters: int
    total_bytes: int
    media: int

    def table_at(self, copy: int) -> int:
        """Where one copy of the table begins."""
        return self.table_offset + copy * self.table_bytes

    @property
    def used_bytes(self) -> int:
        """Bytes of one table that stand for clusters."""
        return min(self.table_bytes, ((self.clusters + 2) * self.bits + 7) // 8)


def boot(view: View) -> Layout | None:
    """The layout that the boot sector gives, or the second one where the first gives none; None where neither does.

    A sound sector gives numbers that agree, and the first entry of a table repeats its medium.
    """
    head = view.at(0, 512)
    return _layout(view, head, 0) or _backup(view)


def seems(head: bytes) -> bool:
    """Whether the first 512 bytes could be a boot sector; cheap, and True too often."""
    if len(head) < 512 or head[21] not in MEDIA or head[16] not in (1, 2):
        return False
    return head[11] == 0 and head[12] in (2, 4, 8, 16)


def _backup(view: View) -> Layout | None:
    if view.at(BACKUP_AT + 82, 8) != _FAT32:
        return None
    head = view.at(BACKUP_AT, 512)
    return _layout(view, head, BACKUP_AT) if int.from_bytes(head[50:52], "little") == 6 else None


def _layout(view: View, head: bytes, at: int) -> Layout | None:
    if not seems(head):
        return None
    jumps = head[0] == 0xE9 or (head[0] == 0xEB and head[2] == 0x90)
    signed = head[SIGNATURE_AT:] == SIGNATURE
    found = dict(read_rows(ROWS, view, at))
    sector, per_cluster = number(found, "sector_bytes"), number(found, "cluster_sectors")
    reserved, tables = number(found, "reserved_sectors"), number(found, "tables")
    if not (jumps or signed) or not reserved or per_cluster not in (1, 2, 4, 8, 16, 32, 64, 128):
        return None
    table_sectors, root_entries = number(found, "table_sectors_16"), number(found, "root_entries")
    wide = table_sectors == 0
    if wide:
        found |= read_rows(ROWS_32, view, at)
        table_sectors = number(found, "table_sectors_32")
        if number(found, "file_system_version") or root_entries or number(found, "root_cluster") < 2:
            return None
    elif head[38] == _SIGNED:
        found |= read_rows(ROWS_16, view, at)
    total = number(found, "total_sectors_16") or number(found, "total_sectors_32")
    root_sectors = -(-root_entries * ENTRY_BYTES // sector)
    data = reserved + tables * table_sectors + root_sectors
    clusters = (total - data) // per_cluster
    if not table_sectors or clusters < 1 or (not wide and (not root_entries or clusters >= _FEW16)):
        return None
    bits = 32 if wide else 16 if clusters >= _FEW12 else 12
    flags = number(found, "table_flags") if wide else 0
    one_only = bool(flags & 0x80) and (flags & 0xF) < tables
    layout = Layout(
        found=found,
        boot_at=at,
        whole=jumps and signed,
        bits=bits,
        sector=sector,
        cluster=sector * per_cluster,
        tables=tables,
        active=flags & 0xF if one_only else 0,
        mirrored=not one_only,
        table_offset=reserved * sector,
        table_bytes=table_sectors * sector,
        root_offset=(reserved + tables * table_sectors) * sector,
        root_bytes=root_entries * ENTRY_BYTES,
        root_cluster=number(found, "root_cluster") if wide else 0,
        data_offset=data * sector,
        clusters=clusters,
        total_bytes=total * sector,
        media=head[21],
    )
    return layout if any(begins(view, layout, copy) for copy in range(tables)) else None


def begins(view: View, layout: Layout, copy: int) -> bool:
    """Whether a copy of the table begins as it must: its first entry is the medium, its other bits ones."""
    first = view.at(layout.table_at(copy), 4)
    if len(first) < 4 or first[0] not in MEDIA:
        return False
    if layout.bits == 12:
        return first[1] & 0x0F == 0x0F
    return first[1] == 0xFF and (layout.bits == 16 or (first[2] == 0xFF and first[3] & 0x0F == 0x0F))


def few_for_its_type(layout: Layout) -> bool:
    """Whether a FAT32 file system has so few clusters that some systems take it for FAT16."""
    return layout.bits == 32 and layout.clusters < _FEW16
