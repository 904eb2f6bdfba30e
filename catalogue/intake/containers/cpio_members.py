"""The members of a cpio archive, one after the other: it is read on a view that only goes forward, too."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from catalogue.formats import cpio
from catalogue.formats.archive_items import TWICE, Item
from catalogue.formats.reader import Looks
from catalogue.formats.view import BytesView, View
from catalogue.intake.containers.container import Container, Entry, Opened
from catalogue.intake.containers.listed_members import entry_of, told
from catalogue.intake.forward import ForwardView
from catalogue.shapes.reading import Reading


class CpioMembers(Opened):
    """Members by their place in the archive."""

    def __init__(self, view: View) -> None:
        super().__init__(view)
        self.in_order = isinstance(view, ForwardView)
        self._walk = cpio.Walk(view)
        self._items: list[Item] = []

    def entries(self) -> Iterator[Entry]:
        """See Opened."""
        self._walk, self._items = cpio.Walk(self.view), []
        seen = set()
        for number, one in enumerate(self._walk.items()):
            again = one.name in seen and not one.folder and not one.fault
            seen.add(one.name)
            item = replace(one, fault=TWICE) if again else one
            self._items.append(item)
            yield entry_of(number, item)

    def chunks(self, entry: Entry) -> Iterator[bytes]:
        """See Opened; checked against the stated sum, where there is one."""
        return told(lambda: self._walk.chunks(self._items[entry.position], entry.position))

    @property
    def faults(self) -> Sequence[str]:
        """See Opened."""
        return (self._walk.fault,) if self._walk.fault else ()

    def reading(self, size: int) -> Reading | None:
        """See Opened."""
        return cpio.reading_of(self._walk, self._items, size)


def _open(view: View) -> Opened | None:
    return None if cpio.looks_like(view) is Looks.NO else CpioMembers(view)


CONTAINER = Container(kind=cpio.KIND, open=_open, begins=lambda head: cpio.looks_like(BytesView(head)) is not Looks.NO)
