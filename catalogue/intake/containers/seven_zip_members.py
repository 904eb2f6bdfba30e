"""The members of a 7z archive: those of a block are unpacked in one pass."""

from __future__ import annotations

from collections.abc import Iterator

from catalogue.formats import seven_zip
from catalogue.formats.view import View
from catalogue.intake.containers.container import Container, Opened
from catalogue.intake.containers.listed_members import ListedMembers


class SevenZipMembers(ListedMembers):
    """Members by their place in the list of files."""

    def __init__(self, view: View, found: seven_zip.Archive) -> None:
        super().__init__(view, found.items, found.faults)
        self._unpacker = seven_zip.Unpacker(view, found)

    def unpacked(self, position: int) -> Iterator[bytes]:
        """See ListedMembers."""
        return self._unpacker.chunks(position)


def _open(view: View) -> Opened | None:
    found = seven_zip.archive(view)
    return None if found is None else SevenZipMembers(view, found)


CONTAINER = Container(kind=seven_zip.KIND, open=_open)
