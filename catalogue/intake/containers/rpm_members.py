"""The one member of an RPM package: its payload, as it is packed."""

from __future__ import annotations

from collections.abc import Iterator

from catalogue.formats import rpm_package
from catalogue.formats.view import View
from catalogue.intake.containers.container import Container, Opened
from catalogue.intake.containers.listed_members import ListedMembers


class RpmMembers(ListedMembers):
    """The payload is member 0."""

    def __init__(self, view: View, found: rpm_package.Package) -> None:
        super().__init__(view, (found.payload,), found.faults)
        self._found = found

    def unpacked(self, position: int) -> Iterator[bytes]:
        """See ListedMembers."""
        return rpm_package.chunks(self.view, self._found)


def _open(view: View) -> Opened | None:
    found = rpm_package.package(view)
    return None if found is None else RpmMembers(view, found)


CONTAINER = Container(kind=rpm_package.KIND, open=_open)
