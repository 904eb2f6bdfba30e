"""The generations and versions that an EFI program states in its `.sbat` section.

rhboot/shim, SBAT.md, "Version-based revocation overview" (Secure Boot Advanced Targeting): lines of comma-separated
values, component name, component generation, vendor name, vendor package name, vendor version, vendor URL. The first
line, "sbat", is about the form itself.
"""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.formats.limits import MAX_TEXT
from catalogue.formats.view import View
from catalogue.shapes.reading import Field, VersionClaim

SOURCE = "SBAT.md, SBAT metadata"
SECTION = ".sbat"
MAX_BYTES = 16 << 10
MAX_LINES = 32
_COLUMNS = 6


@dataclass(frozen=True, slots=True)
class Sbat:
    """What the section says: one field a line, and the version of each component but the form's own."""

    fields: tuple[Field, ...] = ()
    versions: tuple[VersionClaim, ...] = ()


def read(view: View, start: int, length: int) -> Sbat:
    """The lines in the `length` bytes at `start`; lines that are none are left out.

    Raises nothing but the view's own OSError.
    """
    fields: list[Field] = []
    versions: list[VersionClaim] = []
    at = start
    text_bytes = view.at(start, min(length, MAX_BYTES)).split(b"\0", 1)[0]
    for number, line in enumerate(text_bytes.split(b"\n")[:MAX_LINES], 1):
        place, at = at, at + len(line) + 1
        text = line.rstrip(b"\r").decode("utf-8", "replace")
        values = text.split(",")
        if len(values) < 2 or not values[0] or not values[1].isascii() or not values[1].isdigit():
            continue
        meaning = "Component, its generation, vendor, package, version, address"
        fields.append(Field(f"sbat_{number}", text[:MAX_TEXT], place, len(line), meaning, SOURCE))
        if values[0] != "sbat" and len(values) == _COLUMNS and any(sign.isdigit() for sign in values[4]):
            offset = place + len(",".join(values[:4]).encode()) + 1
            versions.append(VersionClaim(values[4][:64], f"SBAT entry {values[0][:40]}, vendor version", offset))
    return Sbat(tuple(fields), tuple(versions))
