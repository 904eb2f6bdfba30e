"""The members of a tar archive: in place where the archive is at hand, one after the other where it goes past."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from catalogue.formats import tar_archive
from catalogue.formats.archive_items import TWICE, Item, Unreadable, together
from catalogue.formats.view import View
from catalogue.intake.containers.container import Container, Damaged, Entry, Opened
from catalogue.intake.forward import ForwardView
from catalogue.shapes.reading import Reading


class TarMembers(Opened):
    """Members by their place in the archive."""

    def __init__(self, view: View) -> None:
        super().__init__(view)
        self.in_order = isinstance(view, ForwardView)
        self._walk = tar_archive.Walk(view)
        self._items: list[Item] = []
        self._at_hand = None if self.in_order else together(list(self._walk.items()))

    def entries(self) -> Iterator[Entry]:
        """See Opened."""
        if self._at_hand is not None:
            yield from map(self._entry, range(len(self._at_hand)))
            return
        names: set[str] = set()
        for position, one in enumerate(self._walk.items()):
            self._items.append(one)
            twice = one.name in names and not one.folder and not one.fault
            names.add(one.name)
            yield _entry(position, one, TWICE if twice else "", self.in_order)

    def find(self, position: int) -> Entry | None:
        """See Opened."""
        if self._at_hand is None:
            return super().find(position)
        return self._entry(position) if 0 <= position < len(self._at_hand) else None

    def _entry(self, position: int) -> Entry:
        assert self._at_hand is not None
        return _entry(position, self._at_hand[position], "", self.in_order)

    def chunks(self, entry: Entry) -> Iterator[bytes]:
        """See Opened."""
        items = self._items if self._at_hand is None else self._at_hand
        try:
            yield from self._walk.chunks(items[entry.position])
        except Unreadable as error:
            raise Damaged(str(error)) from error

    @property
    def faults(self) -> Sequence[str]:
        """See Opened."""
        return (self._walk.fault,) if self._walk.fault and not self._walk.fault.startswith("It ends without") else ()

    def reading(self, size: int) -> Reading | None:
        """See Opened."""
        return None if self._at_hand is not None else tar_archive.listed(_Gone(size), self._walk, together(self._items))


class _Gone:
    """A view on bytes that went past: only their number is left."""

    def __init__(self, size: int) -> None:
        self.size = size

    def at(self, offset: int, length: int) -> bytes:
        """See View.at: nothing is there any more."""
        return b""


def _entry(position: int, one: Item, fault: str, once: bool) -> Entry:
    why = one.why or fault
    return Entry(
        position, one.name, one.size, None, one.folder, False, why, one.readable,
        None if once or not one.readable else one.data_offset,
    )  # fmt: skip


CONTAINER = Container(tar_archive.KIND, TarMembers, begins=tar_archive.begins)
