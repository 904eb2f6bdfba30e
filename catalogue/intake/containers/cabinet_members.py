"""The members of a cabinet: those of a folder are unpacked in one pass."""

from __future__ import annotations

from collections.abc import Iterator

from catalogue.formats import cabinet, cabinet_data
from catalogue.formats.view import View
from catalogue.intake.containers.container import Container, Opened
from catalogue.intake.containers.listed_members import ListedMembers


class CabinetMembers(ListedMembers):
    """Members by their place in the list of files."""

    def __init__(self, view: View, found: cabinet.Cabinet) -> None:
        super().__init__(view, found.items, found.faults)
        self._unpacker = cabinet_data.Unpacker(view, found)

    def unpacked(self, position: int) -> Iterator[bytes]:
        """See ListedMembers."""
        return self._unpacker.chunks(position)


def _open(view: View) -> Opened | None:
    found = cabinet.cabinet(view)
    return None if found is None else CabinetMembers(view, found)


CONTAINER = Container(kind=cabinet.KIND, open=_open)
