"""What a writing task changed, so that every page can refresh itself."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Changes:
    """Which parts of the catalogue changed; pages look at the flags they care about."""

    pieces: bool = False
    families: bool = False
    vouching: bool = False
    words: bool = False
    media: bool = False
