"""What a draft is made from, as values. Offsets and sizes are bytes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date

from catalogue.shapes.reading import VersionClaim

SumTable = Mapping[str, tuple[Callable[[bytes], int], int]]
"""By a layout's word: the sum, and the bytes it is stored in."""


@dataclass(frozen=True, slots=True)
class RomImage:
    """What one image of an option ROM says of its card. `at` and `class_at` are where the vendor and class stand."""

    kind: str
    vendor: int
    device: int
    class_code: int | None
    at: int
    class_at: int


@dataclass(frozen=True, slots=True)
class Piece:
    """One content of the folder. `places` are shown names, `bundles` the archives it came in ("" for none)."""

    sha256: str
    name: str
    places: tuple[str, ...]
    bundles: tuple[str, ...]
    kind: str
    data: bytes
    images: tuple[RomImage, ...] = ()
    versions: tuple[VersionClaim, ...] = ()

    @property
    def size(self) -> int:
        """Length in bytes."""
        return len(self.data)

    def at(self, offset: int) -> str:
        """A place in these bytes, for a comment."""
        return f"{self.places[0]} at {offset:X}h"

    def kinds(self) -> tuple[str, ...]:
        """Its own kind, or those of its images."""
        return tuple(dict.fromkeys(one.kind for one in self.images)) or (self.kind,)


@dataclass(frozen=True, slots=True)
class Text:
    """A text that was read: its shown name, its lines. `saved`: a person gave it as a card's own listing."""

    name: str
    lines: tuple[str, ...]
    saved: bool = False
    bundles: tuple[str, ...] = ()
    sha256: str = ""

    def at(self, number: int) -> str:
        """A line (from 0) of it, for a comment."""
        return f"{self.name} line {number + 1}"


@dataclass(frozen=True, slots=True)
class Given:
    """All that a draft is made from. `folder` is the name of the folder, `today` the day of the draft.

    `root` is the whole path of the folder; `chosen` are SHA-256s where pieces were chosen instead.
    """

    folder: str
    pieces: tuple[Piece, ...]
    texts: tuple[Text, ...]
    today: date
    sums: SumTable = field(default_factory=dict)
    root: str = ""
    chosen: tuple[str, ...] = ()
