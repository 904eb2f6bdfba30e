"""A piece as the window's Shelf lists it, and how the shelf stands as a whole."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ShelfRow:
    """One row of the Shelf's list.

    `id` is the store's own. `card` is "VVVV:DDDD" and then names, where there are any; empty where the piece names no
    card. `version_source` says where the version was read. `families` are titles of families it fits, `vouch` its best
    rung, `place` one of its places, `new` whether it came with the last indexing. `size` is bytes.
    """

    id: int
    sha256: str
    title: str
    kind: str
    card: str
    version: str
    version_source: str
    size: int
    families: tuple[str, ...]
    vouch: str
    place: str
    new: bool


@dataclass(frozen=True, slots=True)
class ShelfState:
    """How many pieces lie in the intake folders now, how many of them came with the last indexing, and the folders.

    Pieces that an indexing brought which was stopped are new, too. `kinds`: each kind with how many pieces it has.
    """

    pieces: int
    new: int
    folders: tuple[str, ...]
    kinds: tuple[tuple[str, int], ...] = ()
