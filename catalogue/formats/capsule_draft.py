"""A capsule while it is read."""

from __future__ import annotations

from dataclasses import dataclass, field

from catalogue.formats.limits import MAX_PARTS
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading, Span


@dataclass(slots=True)
class Draft:
    """What is known so far of the capsule that begins `view`."""

    view: View
    fields: list[Field]
    parts: list[Reading] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[Fault] = field(default_factory=list)
    spans: list[Span] = field(default_factory=list)

    def damaged(self, text: str, offset: int) -> None:
        """Note a fault: firmware would refuse the capsule."""
        self.faults.append(Fault("capsule-damaged", text, min(offset, self.view.size)))

    def odd(self, text: str, offset: int) -> None:
        """Note an oddity."""
        self.notes.append(Fault("capsule-odd", text, min(offset, self.view.size)))

    def add(self, part: Reading) -> None:
        """Add a part, and what is wrong with it to what is wrong with the capsule."""
        if len(self.parts) < MAX_PARTS:
            self.parts.append(part)
            self.faults += part.faults
            self.notes += part.notes
