"""The streams of an installer that are no tables: its cabinets, and whatever else it carries."""

from __future__ import annotations

from collections.abc import Iterator

from catalogue.formats import installer
from catalogue.formats.view import View
from catalogue.intake.containers.container import Container, Opened
from catalogue.intake.containers.listed_members import ListedMembers


class InstallerMembers(ListedMembers):
    """Members by their place in the directory."""

    def __init__(self, view: View, found: installer.Package) -> None:
        super().__init__(view, found.items, (found.file.fault,) if found.file.fault else ())
        self._found = found

    def unpacked(self, position: int) -> Iterator[bytes]:
        """See ListedMembers."""
        return self._found.file.chunks(self._found.streams[position])


def _open(view: View) -> Opened | None:
    found = installer.package(view)
    return None if found is None else InstallerMembers(view, found)


CONTAINER = Container(kind=installer.MSI, open=_open)
