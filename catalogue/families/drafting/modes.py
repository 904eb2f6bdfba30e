"""The modes a folder tells of: IDs and class from its boot ROMs, and the IDs a card shows in a saved text."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from catalogue.families import shown
from catalogue.families.drafting.given import Piece, Text

MOST_MODES = 16
MOST_LINES = 5_000
_NOBODY = (0, 0xFFFF)


@dataclass(frozen=True, slots=True)
class SeenMode:
    """One vendor and device, where they were read, and the class (24 bits) with its place, where one was read."""

    vendor: int
    device: int
    source: str
    class_code: int | None = None
    class_source: str = ""
    in_rom: bool = False
    in_text: bool = False

    @property
    def name(self) -> str:
        """A name made of the IDs alone: what the mode is for is not known."""
        return f"id-{self.vendor:04x}-{self.device:04x}"


def seen_modes(pieces: Iterable[Piece], saved: Iterable[Text]) -> tuple[SeenMode, ...]:
    """Every mode told of, those of ROMs first; MOST_MODES at most."""
    out: dict[tuple[int, int], SeenMode] = {}
    for piece in pieces:
        for image in piece.images:
            ids = (image.vendor, image.device)
            if image.vendor not in _NOBODY and ids not in out:
                where = piece.at(image.class_at) if image.class_code is not None else ""
                out[ids] = SeenMode(*ids, piece.at(image.at), image.class_code, where, in_rom=True)
    for text in saved:
        for number, line in enumerate(text.lines[:MOST_LINES]):
            for card in shown.parse(line):
                ids = (card.vendor, card.device)
                rom = out.get(ids)
                if rom is None:
                    where = text.at(number)
                    told = where if card.class_code is not None else ""
                    out[ids] = SeenMode(*ids, where, card.class_code, told, in_text=True)
                elif not rom.in_text:
                    both = f"{rom.source}; {text.at(number)}"
                    out[ids] = SeenMode(*ids, both, rom.class_code, rom.class_source, rom.in_rom, in_text=True)
    return tuple(out.values())[:MOST_MODES]
