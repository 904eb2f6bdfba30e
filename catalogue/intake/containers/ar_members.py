"""The members of an ar archive and of a Debian package, which lie in it as they are."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from catalogue.formats import ar_archive
from catalogue.formats.view import View
from catalogue.intake.containers.container import Container, Opened
from catalogue.intake.containers.listed_members import ListedMembers


class ArMembers(ListedMembers):
    """Members by their place among those that have a name."""

    def __init__(self, view: View, found: ar_archive.Listing) -> None:
        super().__init__(view, found.items, found.faults)
        self._found = found

    def unpacked(self, position: int) -> Iterator[bytes]:
        """See ListedMembers."""
        return ar_archive.chunks(self.view, self._found, position)


def _open(view: View) -> Opened | None:
    found = ar_archive.listing(view)
    return None if found is None else ArMembers(view, found)


CONTAINER = Container(kind=ar_archive.DEB, open=_open)
LIBRARY = replace(CONTAINER, kind=ar_archive.AR)
