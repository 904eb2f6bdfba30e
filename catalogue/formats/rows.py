"""Layouts as data: one typed row a field of a published structure, and one helper that reads them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum

from catalogue.formats.view import View
from catalogue.shapes.reading import Field


class Kind(Enum):
    """How the bytes of a row become a value."""

    LE = "little-endian number"
    BE = "big-endian number"
    TEXT = "ASCII, the rest as a dot"
    GUID = "GUID as EFI keeps it: its first three fields little-endian"


_LE, _BE = Kind.LE, Kind.BE
"""An enumeration's members are slow to look up, and every field of every piece is read here."""


@dataclass(frozen=True, slots=True)
class Row:
    """One field of a structure: `size` bytes at `offset` from its start.

    `source` is the clause that names it, `meaning` one line for a person, `unit` what one count of a number stands
    for (512 where the standard counts blocks; the value is then in bytes).
    """

    name: str
    offset: int
    size: int
    kind: Kind
    source: str
    meaning: str
    unit: int = 1


Found = Mapping[str, Field]
"""The fields that were there, by name, in the rows' order."""


def read_rows(rows: Sequence[Row], view: View, base: int) -> dict[str, Field]:
    """The fields of the structure that starts at `base`; `rows` stand in the order of their offsets.

    A row cut off by the end of the view is left out.

    Raises nothing but the view's own OSError.
    """
    data = view.at(base, rows[-1].offset + rows[-1].size)
    found: dict[str, Field] = {}
    from_bytes = int.from_bytes
    for row in rows:
        offset, size, kind = row.offset, row.size, row.kind
        raw = data[offset : offset + size]
        if len(raw) < size:
            continue
        value: int | str
        if kind is _LE:
            value = from_bytes(raw, "little") * row.unit
        elif kind is _BE:
            value = from_bytes(raw, "big") * row.unit
        elif kind is Kind.GUID:
            value = efi_guid(raw)
        else:
            value = printable(raw)
        found[row.name] = Field(row.name, value, base + offset, size, row.meaning, row.source)
    return found


def number(found: Found, name: str) -> int:
    """The number of the field called `name`, 0 where it is absent."""
    one = found.get(name)
    return one.value if one is not None and isinstance(one.value, int) else 0


def efi_guid(raw: bytes) -> str:
    """The GUID of 16 bytes as it is written, in capitals (UEFI Specification, appendix A)."""
    first, second, third = raw[3::-1], raw[5:3:-1], raw[7:5:-1]
    return "-".join(one.hex() for one in (first, second, third, raw[8:10], raw[10:16])).upper()


def printable(raw: bytes) -> str:
    """The ASCII text of `raw`, each other byte as a dot."""
    return "".join(chr(byte) if 0x20 <= byte < 0x7F else "." for byte in raw)


def text_at(view: View, offset: int, most: int = 128) -> str:
    """The printable ASCII text at `offset`, closed by a zero byte; "" where there is none or it is not closed."""
    raw, closed, _ = view.at(offset, most).partition(b"\0")
    if not closed or not raw or any(not 0x20 <= byte < 0x7F for byte in raw):
        return ""
    return raw.decode("ascii")
