"""The section table of a PE image: which bytes of the file lie at which address.

Microsoft PE Format, "Section Table (Section Headers)".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from catalogue.formats.limits import MAX_PARTS
from catalogue.formats.rows import printable
from catalogue.formats.view import View

HEADER_BYTES = 40
MAX_SECTIONS = MAX_PARTS
"""The Windows loader takes 96 ("COFF File Header", NumberOfSections); other loaders have no bound of their own."""


@dataclass(frozen=True, slots=True)
class Section:
    """One section: its name, its address and size in memory, its offset and size in the file."""

    name: str
    address: int
    memory_size: int
    offset: int
    size: int

    @property
    def end(self) -> int:
        """Where its bytes in the file end; 0 for a section without any."""
        return self.offset + self.size if self.size else 0


def read_sections(view: View, at: int, count: int) -> tuple[Section, ...]:
    """The sections of the table at `at`, as far as the file and MAX_SECTIONS go."""
    table = view.at(at, HEADER_BYTES * min(count, MAX_SECTIONS))
    whole = len(table) // HEADER_BYTES * HEADER_BYTES
    return tuple(_section(table[row : row + HEADER_BYTES]) for row in range(0, whole, HEADER_BYTES))


def file_offset(sections: Sequence[Section], address: int) -> int | None:
    """Where in the file the byte at `address` (relative to the image's base) lies, None if in no section."""
    for one in sections:
        inside = address - one.address
        if 0 <= inside < one.size:
            return one.offset + inside
    return None


def _section(raw: bytes) -> Section:
    numbers = [int.from_bytes(raw[at : at + 4], "little") for at in (8, 12, 16, 20)]
    return Section(printable(raw[:8].rstrip(b"\0")), numbers[1], numbers[0], numbers[3], numbers[2])
