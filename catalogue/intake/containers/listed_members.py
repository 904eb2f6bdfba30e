"""Members of the containers that list `archive_items.Item`s: what their openers share."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from catalogue.formats.archive_items import Differs, Item, Unreadable
from catalogue.formats.view import View
from catalogue.intake.containers.container import CHUNK, Damaged, Doubted, Entry, Opened


class ListedMembers(Opened):
    """Members by their number among `items`; `faults` are sentences about the whole."""

    def __init__(self, view: View, items: Sequence[Item], faults: Sequence[str] = ()) -> None:
        super().__init__(view)
        self.items = items
        self._faults = faults

    def entries(self) -> Iterator[Entry]:
        """See Opened."""
        return map(entry_of, range(len(self.items)), self.items)

    def find(self, position: int) -> Entry | None:
        """See Opened."""
        return entry_of(position, self.items[position]) if 0 <= position < len(self.items) else None

    def chunks(self, entry: Entry) -> Iterator[bytes]:
        """See Opened."""
        return told(lambda: self.unpacked(entry.position))

    def unpacked(self, position: int) -> Iterator[bytes]:
        """The bytes of a member. Raises Unreadable, and the view's own exceptions."""
        raise NotImplementedError

    @property
    def faults(self) -> Sequence[str]:
        """See Opened."""
        return self._faults


def entry_of(position: int, one: Item) -> Entry:
    """An item as intake knows members."""
    return Entry(
        position, one.name, one.size, one.crc32, one.folder, one.encrypted, one.why, one.readable,
        one.data_offset if one.readable else None,
    )  # fmt: skip


def told(begin: Callable[[], Iterator[bytes]]) -> Iterator[bytes]:
    """The chunks that `begin` gives, at most CHUNK long, with what went wrong told as intake knows it."""
    try:
        for part in begin():
            for at in range(0, len(part), CHUNK):
                yield part[at : at + CHUNK] if len(part) > CHUNK else part
    except Differs as error:
        raise Doubted(str(error)) from error
    except Unreadable as error:
        raise Damaged(str(error)) from error
