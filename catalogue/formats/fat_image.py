"""A FAT file system that fills a piece: FAT12, FAT16 or FAT32, all its folders, and what contradicts itself.

Microsoft FAT32 File System Specification 1.03 (2000). Partitions are the business of `disk_image`.
"""

from __future__ import annotations

from catalogue.formats.disk_files import DiskFile, Extent, Listing, reading, settle
from catalogue.formats.fat_boot import (
    BACKUP_AT,
    SIGNATURE,
    SIGNATURE_AT,
    Layout,
    begins,
    boot,
    few_for_its_type,
    seems,
)
from catalogue.formats.fat_folder import Folder, entries
from catalogue.formats.fat_table import Table
from catalogue.formats.limits import (
    MAX_DISK_DEPTH,
    MAX_FOLDER_BYTES,
    MAX_FOLDERS_BYTES,
    MAX_MEMBERS,
    MAX_TABLE_BYTES,
)
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import View
from catalogue.shapes.reading import Field, Reading

SOURCE = "Microsoft FAT 1.03, FAT Directory Structure"
KIND = "archive/fat"
_STEP = 1 << 20
_OTHER_NAMES = 100
"""8.3 names of members that are listed in a field."""
_CLEAN = {16: 0xC000, 32: 0x0C00_0000}
"""Bits of the table's second entry that are set after a clean dismount (ClnShutBitMask, HrdErrBitMask)."""


def looks_like(view: View) -> Looks:
    """SURE where a boot sector's numbers agree and a table begins as it says."""
    return Looks.SURE if boot(view) is not None else Looks.NO


def maybe(data: bytes) -> bool:
    """Whether `looks_like` could say anything but NO."""
    return seems(data[:512]) or data[BACKUP_AT + 82 : BACKUP_AT + 90] == b"FAT32   "


def read(view: View) -> Reading | None:
    """The file system that begins `view`; None where there is none."""
    layout = boot(view)
    if layout is None:
        return None
    listing = _walk(view, layout)
    return reading(listing, "fat", KIND, f"FAT{layout.bits} image")


def files(view: View) -> Listing | None:
    """As `read`, for unpacking: the files with where they lie; None where there is no such file system."""
    layout = boot(view)
    return None if layout is None else _walk(view, layout)


def _walk(view: View, layout: Layout) -> Listing:
    listing = Listing(view, fields=list(layout.found.values()))
    _whole(listing, layout)
    copy = _compare_tables(listing, layout)
    table = Table(view, layout, copy)
    _clean(listing, layout, table)
    state = _Walk(listing, layout, table)
    state.walk()
    settle(listing, links=False)
    _summary(listing, layout, state)
    return listing


def _whole(listing: Listing, layout: Layout) -> None:
    """What is wrong with the boot sector and the size."""
    view = listing.view
    if layout.boot_at:
        listing.damaged("Its first boot sector is unusable; the second one was read.", 0)
    elif not layout.whole:
        missing = "signature" if view.at(SIGNATURE_AT, 2) != SIGNATURE else "jump"
        listing.odd(f"Its boot sector has no {missing}: no machine starts from it.", 0)
    if view.size < layout.total_bytes:
        text = f"It is cut short: its boot sector counts {layout.total_bytes} bytes, {view.size} are there."
        listing.damaged(text, view.size)
    elif view.size > layout.total_bytes:
        listing.odd(f"{view.size - layout.total_bytes} bytes lie behind the file system.", layout.total_bytes)
    if (layout.clusters + 2) * layout.bits > layout.table_bytes * 8:
        listing.damaged("Its tables are too short for its clusters.", layout.table_offset)
    if few_for_its_type(layout):
        listing.odd("It has too few clusters for FAT32: some systems take it for FAT16.", 0)
    stated = str(layout.found["type_name"].value) if "type_name" in layout.found else ""
    if stated.startswith("FAT") and stated.rstrip() not in ("FAT", f"FAT{layout.bits}"):
        listing.odd(f"Its boot sector calls itself {stated.rstrip()}.", layout.found["type_name"].offset or 0)
    if layout.bits == 32 and not layout.boot_at:
        first, second = view.at(11, 79), view.at(BACKUP_AT + 11, 79)
        if layout.found["backup_sector"].value == 6 and len(second) == len(first) and first != second:
            listing.odd("Its two boot sectors differ.", BACKUP_AT)
    listing.span("boot sector", 0, layout.sector)
    for copy in range(layout.tables):
        listing.span(f"file allocation table {copy + 1}", layout.table_at(copy), layout.table_bytes)
    listing.span("root folder", layout.root_offset, layout.root_bytes)


def _compare_tables(listing: Listing, layout: Layout) -> int:
    """Which copy of the table is read; what is said where copies disagree."""
    view = listing.view
    good = [copy for copy in range(layout.tables) if begins(view, layout, copy)]
    used = layout.active if layout.active in good else good[0]
    if used != layout.active:
        listing.damaged(f"Table {layout.active + 1} does not begin as a table must; table {used + 1} was read.",
                        layout.table_at(layout.active))  # fmt: skip
    first = view.at(layout.table_at(used), 1)[0]
    if first != layout.media:
        listing.odd(
            f"Its table names the medium {first:02X}h, its boot sector {layout.media:02X}h.", layout.table_offset
        )
    if not layout.mirrored or layout.tables < 2:
        return used
    other = 1 - used
    for at in range(0, min(layout.used_bytes, MAX_TABLE_BYTES), _STEP):
        length = min(_STEP, layout.used_bytes - at)
        one, two = view.at(layout.table_at(used) + at, length), view.at(layout.table_at(other) + at, length)
        if one != two:
            differ = _first_difference(one, two)
            cluster = (at * 8 + differ) // layout.bits
            text = f"Its two tables disagree, first about cluster {cluster}; table {used + 1} was read."
            listing.damaged(text, layout.table_at(other) + at + differ // 8)
            break
    else:
        if layout.used_bytes > MAX_TABLE_BYTES:
            listing.odd(f"Only the first {MAX_TABLE_BYTES >> 20} MiB of its tables were compared.", layout.table_offset)
    return used


def _first_difference(one: bytes, two: bytes) -> int:
    """The first bit, the lowest of each byte first, in which two byte strings differ."""
    for at, (a, b) in enumerate(zip(one, two, strict=False)):
        if a != b:
            return at * 8 + ((a ^ b) & -(a ^ b)).bit_length() - 1
    return min(len(one), len(two)) * 8


def _clean(listing: Listing, layout: Layout, table: Table) -> None:
    bits = _CLEAN.get(layout.bits, 0)
    second = table.entry(1)
    if second is not None and second & bits != bits:
        listing.odd("It was not dismounted cleanly.", layout.table_offset + layout.bits // 8)


class _Walk:
    """All folders, each once."""

    def __init__(self, listing: Listing, layout: Layout, table: Table) -> None:
        self.listing, self.layout, self.table = listing, layout, table
        self.deleted = self.astray = self.longer = 0
        self.bytes_left = MAX_FOLDERS_BYTES
        self._seen: set[int] = set()
        self._ahead: list[tuple[str, list[Extent], int]] = []
        self._full = False

    def walk(self) -> None:
        """Read the root folder and all that it leads to."""
        layout = self.layout
        if layout.bits == 32:
            self._seen.add(layout.root_cluster)
            places, why = self._places(layout.root_cluster)
            if why:
                self.listing.damaged(f"Its root folder {why}.", layout.data_offset)
        else:
            places = [(layout.root_offset, layout.root_bytes)]
        self._folder("", places, 0, root=True)
        while self._ahead and not self._full:
            path, places, depth = self._ahead.pop()
            self._folder(path, places, depth, root=False)

    def _places(self, cluster: int) -> tuple[list[Extent], str]:
        """Where a folder lies, and what is wrong with its chain."""
        most = max(1, MAX_FOLDER_BYTES // self.layout.cluster)
        extents, _, why = self.table.chain(cluster, most)
        kept: list[Extent] = []
        for offset, length in extents:
            if any(offset < at + size and at < offset + length for at, size in kept[-64:]):
                break
            kept.append((offset, length))
        return kept, "is longer than can be read" if why.startswith("goes on") else why

    def _folder(self, path: str, places: list[Extent], depth: int, *, root: bool) -> None:
        listing = self.listing
        data = bytearray()
        for offset, length in places:
            wanted = min(length, self.bytes_left, MAX_FOLDER_BYTES - len(data))
            got = listing.view.at(offset, wanted)
            data += got
            self.bytes_left -= len(got)
            if len(got) < length or not self.bytes_left:
                break
        if not self.bytes_left:
            listing.damaged(f"Its folders hold more than {MAX_FOLDERS_BYTES >> 20} MiB; the rest was not read.")
            self._full = True
        found = entries(bytes(data), places, self.layout.bits == 32, MAX_MEMBERS + 1 - len(listing.files))
        self.deleted += found.deleted
        self.astray += found.astray
        if root and found.label:
            label = Field("label", found.label, found.label_at, 11, "Label as the root folder has it", SOURCE)
            listing.fields.append(label)
        self._entries(path, found, depth)

    def _entries(self, path: str, found: Folder, depth: int) -> None:
        folders: list[tuple[str, list[Extent], int]] = []
        for one in found.entries:
            name = path + one.name
            unsafe = "has a slash in its name" if "/" in one.name else ""
            short = one.short_name if one.short_name != one.name else ""
            if one.folder:
                places, fault = self._places(one.cluster) if one.cluster not in self._seen else ([], "")
                if one.cluster in self._seen:
                    fault = "is a folder that leads back to one that is listed already"
                elif depth + 1 >= MAX_DISK_DEPTH:
                    fault = f"is a folder more than {MAX_DISK_DEPTH} folders deep, which was not read"
                elif places:
                    self._seen.add(one.cluster)
                    folders.append((name + "/", places, depth + 1))
                made = DiskFile(name + "/", 0, tuple(places), True, short, one.at, fault, unsafe)
            else:
                extents, fault = self._bytes_of(one.cluster, one.size)
                made = DiskFile(name, one.size, extents, False, short, one.at, fault, unsafe)
            if not self.listing.add(made):
                self._full = True
                return
        self._ahead += reversed(folders)

    def _bytes_of(self, cluster: int, size: int) -> tuple[tuple[Extent, ...], str]:
        if size == 0:
            return (), ""
        if cluster == 0:
            return (), "has a size but no clusters"
        layout = self.layout
        if size > layout.clusters * layout.cluster:
            return (), "is longer than the whole file system"
        extents, count, why = self.table.chain(cluster, -(-size // layout.cluster))
        if why.startswith("goes on"):
            self.longer += 1
            why = ""
        if not why and count * layout.cluster < size:
            why = "has a cluster chain that ends before its size"
        return _cut(extents, size), why


def _cut(extents: tuple[Extent, ...], size: int) -> tuple[Extent, ...]:
    """The extents up to `size` bytes."""
    made: list[Extent] = []
    for offset, length in extents:
        if size <= 0:
            break
        made.append((offset, min(length, size)))
        size -= length
    return tuple(made)


def _summary(listing: Listing, layout: Layout, state: _Walk) -> None:
    add = listing.fields.append
    add(Field("fat_bits", layout.bits, None, 0, "Bits of a table's entry, by the count of clusters",
              "Microsoft FAT 1.03, FAT Type Determination"))  # fmt: skip
    add(Field("clusters", layout.clusters, None, 0, "Clusters of the file system"))
    add(Field("cluster_bytes", layout.cluster, None, 0, "Bytes of one cluster"))
    add(Field("deleted_entries", state.deleted, None, 0, "Entries of deleted files, which are not looked at", SOURCE))
    short = [f"{one.short_name} = {one.name}"[:200] for one in listing.files if one.short_name]
    if short:
        add(Field("short_names", tuple(short[:_OTHER_NAMES]), None, 0, "8.3 names of members with long names", SOURCE))
    if state.astray:
        listing.odd(f"Parts of long names that belong to no entry: {state.astray}.")
    if state.longer:
        listing.odd(f"Files whose cluster chain is longer than their size: {state.longer}.")


READER = Reader(
    name="fat",
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    maybe=maybe,
    version=1,
    source="Microsoft FAT32 File System Specification 1.03",
    depth="FAT12, FAT16, FAT32: boot sectors, tables compared, folders, long and 8.3 names; circles, shared clusters, "
    "chains and sizes that contradict each other",
)
