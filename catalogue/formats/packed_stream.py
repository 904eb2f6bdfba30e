"""What streams of several compressors have in common: one content without a name of its own, and a reading of it."""

from __future__ import annotations

from collections.abc import Iterable

from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Member, Reading, Span

UNNAMED = "unpacked"
"""Name of what a stream holds, where the stream names nothing."""


def reading(
    name: str,
    kind: str,
    title: str,
    view: View,
    *,
    called: str = UNNAMED,
    size: int | None = None,
    crc32: int | None = None,
    fields: Iterable[Field] = (),
    faults: Iterable[Fault] = (),
    notes: Iterable[Fault] = (),
) -> Reading:
    """A reading of a stream that fills `view` and holds one content; `size` is what it says of that, if it does."""
    return Reading(
        format=name,
        kind=kind,
        title=title,
        length=view.size,
        fields=tuple(fields),
        faults=tuple(faults),
        notes=tuple(notes),
        members=(Member(called, size, view.size, crc32),),
        spans=(Span("packed", 0, view.size),),
    )
