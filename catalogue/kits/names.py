"""A readable name for a piece, the same however its places came in. It decides nothing."""

from __future__ import annotations

from pathlib import PurePath

from catalogue.kits.candidate import Candidate
from catalogue.shapes.piece import Place


def last_part(place: Place) -> str:
    """The piece's own name in a place: the last part of the member's name, or of the path."""
    if place.inside:
        return place.inside[-1].rstrip("/").rpartition("/")[2] or place.inside[-1]
    return PurePath(place.path).name


def readable(candidate: Candidate) -> str:
    """The shortest of its names, then the first by letters; the start of its digest where it has none.

    A piece that lies nowhere any more keeps the name it was written out under.
    """
    if candidate.written_as:
        return candidate.written_as
    names = {name for place in candidate.places if (name := last_part(place))}
    return min(names, key=lambda name: (len(name), name.casefold(), name), default=candidate.sha256[:8])
