"""One thing in the made folder: a file, or an archive with things in it, and what it is there for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from sample_bundles.zips import Entry, zip_bytes


@dataclass(frozen=True)
class Item:
    """A file or an archive.

    `name` is its path within the folder or archive that holds it, with `/`. `family` and `roles` say what it is for;
    `good` that a route's kit takes it. `tempts` are the finding codes that must stop it when it is chosen for
    `roles`. An archive's `content` is empty: its bytes come from `members`. `cut` keeps only that many bytes, as a
    download that broke off.
    """

    name: str
    content: bytes = b""
    family: str = ""
    roles: tuple[str, ...] = ()
    good: bool = False
    tempts: tuple[str, ...] = ()
    what: str = ""
    members: tuple[Item, ...] | None = None
    day: tuple[int, int, int] = (2026, 2, 10)
    utf8: bool = True
    cut: int | None = None

    @cached_property
    def data(self) -> bytes:
        """The bytes on disk."""
        whole = self.content
        if self.members is not None:
            whole = zip_bytes((Entry(one.name, one.data, one.utf8) for one in self.members), self.day)
        return whole if self.cut is None else whole[: self.cut]

    def walk(self, inside: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Item]]:
        """This item and, unless it is cut short, all in it, each with its names from the outside in."""
        here = (*inside, self.name)
        yield here, self
        if self.members is not None and self.cut is None:
            for one in self.members:
                yield from one.walk(here)

    def named(self, name: str) -> Item:
        """The same thing under another name."""
        return replace(self, name=name)
