"""The UNDI ROM ID structure of a network boot ROM.

Preboot Execution Environment (PXE) Specification 2.1, table 3-2; the offsets from memory.
"""

from __future__ import annotations

from catalogue.formats.rows import Kind, Row, number, read_rows
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading

SOURCE = "PXE 2.1, UNDI ROM ID structure"
SIGNATURE = b"UNDI"
LEAST = 0x16

_ROWS = (
    Row("structure_length", 0x04, 1, Kind.LE, SOURCE, "Bytes of this structure"),
    Row("checksum", 0x05, 1, Kind.LE, SOURCE, "Makes the structure's bytes sum to 0"),
    Row("structure_revision", 0x06, 1, Kind.LE, SOURCE, "Structure revision"),
    Row("loader_entry", 0x0A, 2, Kind.LE, SOURCE, "Entry of the UNDI loader, from the image's start"),
    Row("stack_size", 0x0C, 2, Kind.LE, SOURCE, "Bytes of stack the driver wants"),
    Row("data_size", 0x0E, 2, Kind.LE, SOURCE, "Bytes of data segment the driver wants"),
    Row("code_size", 0x10, 2, Kind.LE, SOURCE, "Bytes of code segment the driver wants"),
    Row("bus_type", 0x12, 4, Kind.TEXT, SOURCE, "PCIR, ISAR, USBR …"),
)


def read_undi(view: View, start: int, end: int, pointer: int) -> tuple[Reading, ...]:
    """The structure of the image in [start, end) at `pointer` from its start; nothing where there is none."""
    at = start + pointer
    if not pointer or at + LEAST > end or view.at(at, 4) != SIGNATURE:
        return ()
    found = read_rows(_ROWS, view, at)
    version = view.at(at + 7, 3)
    # The three bytes stand lowest first: 00h 01h 02h is UNDI 2.1.0 (PXE 2.1).
    spelt = ".".join(str(byte) for byte in reversed(version))
    fields = [*found.values(), Field("undi_version", spelt, at + 7, 3, "Revision of the UNDI interface", SOURCE)]
    length = number(found, "structure_length")
    notes: tuple[Fault, ...] = ()
    if length < LEAST or sum(view.at(at, length)) & 0xFF:
        notes = (Fault("rom-odd", "The bytes of the UNDI structure do not sum to 0.", at + 5),)
    return (
        Reading("undi", "undi-structure", f"UNDI {spelt} network interface", at, length, tuple(fields), notes=notes),
    )
