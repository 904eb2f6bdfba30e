"""What a container is: one row of the table in `catalogue.intake.containers`, and what its opener gives."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from catalogue.formats.view import View
from catalogue.shapes.reading import Reading

CHUNK = 1 << 20
"""Bytes that `chunks` gives at a time, at most."""


class Damaged(Exception):
    """The packed bytes do not unpack to what the container says; the text says how, after "Member x"."""


class Doubted(Damaged):
    """All bytes of a member were given out, and then the container's own check of them failed."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One member as its container lists it, at a `position` that is the same whenever the same bytes are opened.

    `name` is lossless: bytes that are no text stand as surrogate escapes. It is only text and never a path. `size` is
    None where only unpacking tells. `crc32` is the check that the container holds of it, if it is a CRC-32.
    `fault` says in words, after "It", why the member must not be used ("" for nothing); `usable` is whether its bytes
    are to be unpacked all the same. `offset` is where the bytes lie just as they are in the opened view, None where
    they have to be unpacked.
    """

    position: int
    name: str
    size: int | None
    crc32: int | None = None
    folder: bool = False
    encrypted: bool = False
    fault: str = ""
    usable: bool = True
    offset: int | None = None


class Opened(ABC):
    """An open container over `view`.

    `in_order`: members can only be had in one pass. Then `chunks` is only for the entry that `entries` gave last, and
    what of it was not taken is skipped when the next entry is asked for. Else `chunks` can be called at any time.
    `checks`: the container keeps a check of the content (no CRC-32 that `Entry` could give), and it was made.
    Nothing here raises but Damaged (Doubted where all bytes were given), the view's own exceptions, and from a library
    whatever it likes: intake guards it.
    """

    in_order = False
    checks = False
    """Whether every byte given out was held against a check of the whole content that the container keeps."""

    def __init__(self, view: View) -> None:
        self.view = view

    @abstractmethod
    def entries(self) -> Iterator[Entry]:
        """Every entry in order of position, folders too."""

    @abstractmethod
    def chunks(self, entry: Entry) -> Iterator[bytes]:
        """The bytes of a member, at most CHUNK at a time, at most `entry.size` in all, checked where there is a check.

        Raises Damaged where they end early, go on, or do not unpack.
        """

    @property
    def faults(self) -> Sequence[str]:
        """What is wrong with the container as a whole, in sentences; complete when `entries` has ended."""
        return ()

    def find(self, position: int) -> Entry | None:
        """The entry at a position. An opener that has its entries at hand answers quicker."""
        return next((one for one in self.entries() if one.position == position), None)

    def reading(self, size: int) -> Reading | None:
        """What its reader would say of it, where it was read through on a view that only goes forward.

        `size` is that of the whole container.
        """
        return None


@dataclass(frozen=True, slots=True)
class Container:
    """One format that holds members. `kind` is that of its reader's readings.

    `open` is given a view that the reader said is of this kind, and returns None where nothing can be listed: `missing`
    then says why. `begins` says of the first bytes (some kilobytes) whether they begin one that `open` can read on a
    view that only goes forward (`intake.forward`); None for a container that needs to look about. `version` rises
    whenever it gives other members or bytes, so that archives of its kind are opened again.
    """

    kind: str
    open: Callable[[View], Opened | None]
    missing: str = "It is cut short, or the rest of it is in another file."
    begins: Callable[[bytes], bool] | None = None
    version: int = 1

