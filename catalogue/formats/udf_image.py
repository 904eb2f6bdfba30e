"""UDF images: all folders, holes and embedded files; and what an ISO 9660 tree beside it lists alone.

ECMA-167 (3rd edition) and OSTA Universal Disk Format 1.02 to 2.60.
"""

from __future__ import annotations

from catalogue.formats import iso_image
from catalogue.formats.disk_files import DAMAGED, HOLE, UNREAD, DiskFile, Extent, Listing, reading, settle
from catalogue.formats.iso_volume import START
from catalogue.formats.limits import MAX_DISK_DEPTH, MAX_FOLDER_BYTES, MAX_FOLDERS_BYTES
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.udf_entry import DELETED, FOLDER_TYPE, METADATA, PARENT, Listed, file_entry, identifiers
from catalogue.formats.udf_volume import RECOGNITION_AT, Udf, UdfUnread, is_udf, udf_volume
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading

KIND = "archive/udf"
_BEGIN = b"BEA01"


def looks_like(view: View) -> Looks:
    """SURE where a recognition sequence names UDF and its volume can be read; MAYBE where only the first holds."""
    if not is_udf(view):
        return Looks.NO
    try:
        udf_volume(view)
    except UdfUnread:
        return Looks.MAYBE
    return Looks.SURE


def maybe(data: bytes) -> bool:
    """Whether `looks_like` could say anything but NO."""
    return _BEGIN in data[RECOGNITION_AT : RECOGNITION_AT + (64 << 10)]


def read(view: View) -> Reading | None:
    """The volume that fills `view`; None where there is none."""
    listing = files(view)
    return None if listing is None else reading(listing, "udf", KIND, "UDF image")


def files(view: View) -> Listing | None:
    """As `read`, for unpacking: the files with where they lie."""
    if not is_udf(view):
        return None
    listing = Listing(view)
    listing.span("system area", 0, START)
    try:
        volume = udf_volume(view)
    except UdfUnread as error:
        code = DAMAGED if error.damaged else UNREAD
        listing.faults.append(Fault(code, str(error), RECOGNITION_AT))
        settle(listing, links=True)
        return listing
    _describe(listing, volume)
    walk = _Walk(listing, volume)
    walk.walk()
    what = "File identifiers of deleted files, which are not looked at"
    listing.fields.append(Field("deleted_entries", walk.deleted, None, 0, what, "ECMA-167, 4/14.4.3"))
    if walk.streams:
        listing.odd(f"Files with named streams, which are not read: {walk.streams}.")
    _bridge(listing)
    settle(listing, links=True)
    return listing


def _describe(listing: Listing, volume: Udf) -> None:
    at = volume.logical_at
    add = listing.fields.append
    revision = f"{volume.revision >> 8:x}.{volume.revision & 0xFF:02x}"
    add(Field("revision", revision, at + 240, 2, "Revision of UDF that it keeps to", "UDF 2.60, 2.1.5.3"))
    add(Field("volume_name", volume.name, at + 84, 128, "Name of the logical volume", "ECMA-167, 3/10.6.4"))
    add(Field("block_bytes", volume.block, at + 212, 4, "Bytes of one logical block", "ECMA-167, 3/10.6.5"))
    for text, where in volume.odd:
        listing.odd(text, where)
    if volume.end > listing.view.size:
        text = f"It is cut short: its partition ends at {volume.end}, {listing.view.size} bytes are there."
        listing.damaged(text, listing.view.size)


class _Walk:
    """All folders, each once."""

    def __init__(self, listing: Listing, volume: Udf) -> None:
        self.listing, self.volume = listing, volume
        self.deleted = self.streams = 0
        self._left = MAX_FOLDERS_BYTES
        self._full = False
        self._seen: set[tuple[int, int]] = set()
        self._ahead: list[tuple[str, tuple[Extent, ...], int, int]] = []

    def walk(self) -> None:
        partition, block, _ = self.volume.root
        at = self._at(partition, block)
        root = file_entry(self.listing.view, self.volume.partitions, partition, at, self.volume.block) if at else None
        if root is None or root.kind != FOLDER_TYPE:
            self.listing.damaged("Its root folder is damaged or missing.", at or 0)
            return
        if root.fault:
            self.listing.damaged(f"Its root folder {root.fault}.", at or 0)
        self._seen.add((partition, block))
        self._ahead.append(("", root.extents, root.size, 0))
        while self._ahead and not self._full:
            self._folder(*self._ahead.pop())

    def _at(self, partition: int, block: int) -> int | None:
        maps = self.volume.partitions
        found = maps[partition].locate(block, self.volume.block) if partition < len(maps) else None
        return found[0][0] if found else None

    def _folder(self, path: str, extents: tuple[Extent, ...], size: int, depth: int) -> None:
        listing = self.listing
        data = bytearray()
        for offset, length in extents:
            wanted = min(length, self._left, MAX_FOLDER_BYTES - len(data))
            got = bytes(wanted) if offset == HOLE else listing.view.at(offset, wanted)
            data += got
            self._left -= len(got)
            if len(got) < length:
                break
            listing.span(f"folder {path[-60:]}", offset, length)
        name = path or "its root folder"
        if len(data) < size:
            listing.damaged(f"Folder {name[:200]!r} is cut short or longer than can be read.")
        if self._left <= 0:
            listing.damaged(f"Its folders hold more than {MAX_FOLDERS_BYTES >> 20} MiB; the rest was not read.")
            self._full = True
        ahead: list[tuple[str, tuple[Extent, ...], int, int]] = []
        for one in identifiers(bytes(data)):
            if one is None:
                listing.damaged(f"A file identifier of folder {name[:200]!r} is damaged; the rest was not read.")
                break
            if one.flags & DELETED:
                self.deleted += 1
            elif not one.flags & (PARENT | METADATA) and not self._entry(path, one, extents, depth, ahead):
                self._full = True
                break
        self._ahead += reversed(ahead)

    def _entry(
        self,
        path: str,
        one: Listed,
        around: tuple[Extent, ...],
        depth: int,
        ahead: list[tuple[str, tuple[Extent, ...], int, int]],
    ) -> bool:
        """Take one identifier; False where no more can be taken."""
        volume = self.volume
        at = self._at(one.partition, one.block)
        entry = (
            None if at is None else file_entry(self.listing.view, volume.partitions, one.partition, at, volume.block)
        )
        listed_at = _place(around, one.at)
        unsafe = "has a slash in its name" if "/" in one.name else ""
        name = path + one.name
        if entry is None:
            fault = "has an entry that is damaged or missing"
            return self.listing.add(DiskFile(name, 0, (), False, "", listed_at, fault, unsafe))
        self.streams += entry.streams
        if entry.kind != FOLDER_TYPE:
            extents = () if entry.fault else entry.extents
            return self.listing.add(DiskFile(name, entry.size, extents, False, "", listed_at, entry.fault, unsafe))
        fault = entry.fault
        if (one.partition, one.block) in self._seen:
            fault = "is a folder that leads back to one that is listed already"
        elif depth + 1 >= MAX_DISK_DEPTH:
            fault = f"is a folder more than {MAX_DISK_DEPTH} folders deep, which was not read"
        else:
            self._seen.add((one.partition, one.block))
            ahead.append((name + "/", entry.extents, entry.size, depth + 1))
        return self.listing.add(DiskFile(name + "/", 0, (), True, "", listed_at, fault, unsafe))


def _place(extents: tuple[Extent, ...], at: int) -> int:
    """Where in the image a byte of a folder lies."""
    for offset, length in extents:
        if at < length:
            return max(0, offset) + at
        at -= length
    return 0


def _bridge(listing: Listing) -> None:
    """What an ISO 9660 volume on the same disc adds: boot images, partitions, files that only it lists."""
    other = iso_image.files(listing.view, beside_udf=True)
    if other is None:
        return
    listing.odd("It carries an ISO 9660 volume too.", START)
    known = {one.extents for one in listing.files}
    names = {one.name for one in listing.files}
    more = [one for one in other.files if one.extents and one.extents not in known]
    if more:
        listing.odd(f"Files that only its ISO 9660 volume lists: {len(more)}.", more[0].listed_at)
    for one in more:
        name = f"ISO 9660 volume/{one.name}" if one.name in names else one.name
        if not listing.add(DiskFile(name, one.size, one.extents, listed_at=one.listed_at, fault=one.fault)):
            break
    listing.fields += [one for one in other.fields if one.name.startswith(("boot_", "partition_"))]
    listing.faults += [one for one in other.faults if "cut short" not in one.text]
    listing.notes += [one for one in other.notes if "hybrid" in one.text or "tree lists" in one.text]


READER = Reader(
    name="udf",
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    maybe=maybe,
    version=1,
    source="ECMA-167; OSTA UDF 1.02 to 2.60",
    depth="plain, sparable and metadata partitions; holes, embedded files, continued allocation descriptors; what an "
    "ISO 9660 volume on the same disc lists besides; virtual allocation tables are named, not read",
)
