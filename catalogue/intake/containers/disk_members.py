"""The members of disk images: files of ISO 9660, UDF and FAT, partitions of a whole disk. They lie stored."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from catalogue.formats import disk_files, disk_image, fat_image, iso_image, udf_image
from catalogue.formats.disk_files import DEVICE, LINK, TWICE, CutShort, Listing
from catalogue.formats.view import View
from catalogue.intake.containers.container import Container, Damaged, Entry, Opened

_LEFT_OUT = (LINK, DEVICE)
"""Entries that are no members: nothing is wrong with an image that has them, and its reading names them."""


class DiskMembers(Opened):
    """Members by their place in the listing."""

    def __init__(self, view: View, listing: Listing) -> None:
        super().__init__(view)
        self._listing = listing

    def entries(self) -> Iterator[Entry]:
        """See Opened. Links and devices are left out."""
        for position, one in enumerate(self._listing.files):
            if one.fault not in _LEFT_OUT:
                yield self._entry(position)

    def find(self, position: int) -> Entry | None:
        """See Opened."""
        return self._entry(position) if 0 <= position < len(self._listing.files) else None

    def _entry(self, position: int) -> Entry:
        one = self._listing.files[position]
        usable = not one.folder and one.fault in ("", TWICE)
        return Entry(position, one.name, one.size, None, one.folder, False, one.fault, usable, one.offset)

    def chunks(self, entry: Entry) -> Iterator[bytes]:
        """See Opened; a disk image holds no check of its files."""
        try:
            yield from disk_files.chunks(self.view, self._listing.files[entry.position])
        except CutShort as error:
            raise Damaged(str(error)) from error

    @property
    def faults(self) -> Sequence[str]:
        """See Opened."""
        return [one.text for one in self._listing.faults]


def _opener(files: Callable[[View], Listing | None]) -> Callable[[View], Opened | None]:
    def opened(view: View) -> Opened | None:
        listing = files(view)
        return None if listing is None else DiskMembers(view, listing)

    return opened


_MISSING = "Its file system cannot be found any more."
CONTAINERS: tuple[Container, ...] = (
    Container(iso_image.KIND, _opener(iso_image.files), _MISSING),
    Container(udf_image.KIND, _opener(udf_image.files), _MISSING),
    Container(fat_image.KIND, _opener(fat_image.files), _MISSING),
    Container(disk_image.KIND, _opener(disk_image.files), "Its partition table cannot be found any more."),
)
