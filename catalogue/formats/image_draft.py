"""One image of an option ROM while it is read, and when it is done."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import chain

from catalogue.formats.fill import used_end
from catalogue.formats.view import View
from catalogue.shapes.reading import CardId, Fault, Field, Reading, Span, VersionClaim

SOURCE = "PCI Firmware Specification 5.1"
_SHOWN_TAIL = 16
"""Shorter runs of fill at the end of an image are not worth a span of their own."""


@dataclass(frozen=True, slots=True)
class Image:
    """One image as read. `takes`: bytes to the place where the next is looked for. `ends`: no image follows it.

    `broken`: its length cannot be trusted, so nothing says where the next image would begin.
    """

    reading: Reading
    name: str
    takes: int
    ends: bool
    broken: bool
    spans: tuple[Span, ...]


@dataclass(slots=True)
class Draft:
    """What is known so far of the image of `length` bytes that begins at `start`.

    `kind` and `name` say what it is, as a word of the command line's contract and in a title. `used` is how many
    bytes its initialisation size covers. `versions` are claims besides those of its parts.
    """

    view: View
    start: int
    length: int
    kind: str = "option-rom"
    name: str = ""
    used: int = 0
    ends: bool = False
    broken: bool = False
    fields: list[Field] = field(default_factory=list)
    parts: list[Reading] = field(default_factory=list)
    ids: tuple[CardId, ...] = ()
    versions: list[VersionClaim] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[Fault] = field(default_factory=list)

    @property
    def end(self) -> int:
        """Where the image ends, or the file where that comes first."""
        return min(self.start + self.length, self.view.size)

    def damaged(self, text: str, offset: int) -> None:
        """Note a fault: the image cannot be what its maker published, or system firmware would refuse it."""
        self.faults.append(Fault("rom-damaged", text, min(offset, self.view.size)))

    def odd(self, text: str, offset: int) -> None:
        """Note an oddity that real images have."""
        self.notes.append(Fault("rom-odd", text, offset))

    def finish(self) -> Image:
        """The image, its reading with what its parts say besides its own.

        A part that lies unpacked has its say by whoever adds it: its offsets mean nothing here.
        """
        parts = [part for part in self.parts if not part.inside]
        cards = ", ".join(f"{one.vendor:04X}:{one.device:04X}" for one in self.ids)
        reading = Reading(
            format="option-rom-image",
            kind=self.kind,
            title=f"{self.name}; {cards}" if cards else self.name,
            offset=self.start,
            length=self.end - self.start,
            fields=(Field("offset", self.start, None, 0, "Where this image begins", SOURCE), *self.fields),
            parts=tuple(self.parts),
            ids=self.ids,
            versions=(*self.versions, *chain.from_iterable(part.versions for part in parts)),
            faults=(*self.faults, *chain.from_iterable(part.faults for part in parts)),
            notes=(*self.notes, *chain.from_iterable(part.notes for part in parts)),
            spans=self._spans(),
        )
        return Image(reading, self.name, self.length, self.ends, self.broken, reading.spans)

    def _spans(self) -> tuple[Span, ...]:
        """The image in the ruler's terms: what is used, what lies beyond, the fill at its end; nothing where broken."""
        if self.broken:
            return ()
        stop = used_end(self.view, self.start, self.end)
        if self.end - stop < _SHOWN_TAIL:
            stop = self.end
        filled = min(self.start + self.used, stop)
        spans = [Span(self.name, self.start, filled - self.start)]
        if filled < stop:
            spans.append(Span(f"{self.name}, beyond its initialisation size", filled, stop - filled))
        if stop < self.end:
            spans.append(Span(f"{self.name}, unused", stop, self.end - stop))
        return tuple(spans)
