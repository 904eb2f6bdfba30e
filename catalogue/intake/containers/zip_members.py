"""The members of a zip archive, whatever stands before it."""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Sequence

from catalogue.formats import zip_archive, zip_directory
from catalogue.formats.view import View
from catalogue.formats.zip_directory import Directory
from catalogue.intake.containers import zip_packing
from catalogue.intake.containers.container import Container, Doubted, Entry, Opened


class ZipMembers(Opened):
    """Members by their place in the directory."""

    def __init__(self, view: View, found: Directory) -> None:
        super().__init__(view)
        self._found = found

    def entries(self) -> Iterator[Entry]:
        """See Opened."""
        return map(self._entry, range(len(self._found.entries)))

    def find(self, position: int) -> Entry | None:
        """See Opened."""
        return self._entry(position) if 0 <= position < len(self._found.entries) else None

    def _entry(self, position: int) -> Entry:
        one = self._found.entries[position]
        locked = one.encrypted
        return Entry(
            position,
            one.name,
            one.size,
            one.crc32,
            one.folder,
            locked,
            one.fault,
            one.data_offset is not None and not locked and (not one.fault or one.fault_leaves_bytes),
            one.data_offset if one.method == zip_packing.STORED else None,
        )

    def chunks(self, entry: Entry) -> Iterator[bytes]:
        """See Opened; checked against the CRC."""
        one = self._found.entries[entry.position]
        crc = 0
        for chunk in zip_packing.chunks(self.view, one):
            crc = zlib.crc32(chunk, crc)
            yield chunk
        if crc != one.crc32:
            raise Doubted(f"has bytes of the CRC {crc:08x}, its directory says {one.crc32:08x}")

    @property
    def faults(self) -> Sequence[str]:
        """See Opened."""
        return self._found.faults


def _open(view: View) -> Opened | None:
    found = zip_directory.directory(view)
    return None if found is None else ZipMembers(view, found)


CONTAINER = Container(
    kind=zip_archive.KIND,
    open=_open,
    missing="Its directory is missing: it is cut short, or the rest of it is in another file.",
)
