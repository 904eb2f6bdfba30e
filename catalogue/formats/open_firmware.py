"""The FCode program of an Open Firmware image (code type 1): its header and its sum; the program is never run.

IEEE 1275-1994, 5.2.2.5 (FCode program header) and its PCI Bus Binding, section 9; start byte FDh from memory.
"""

from __future__ import annotations

from catalogue.formats.image_draft import Draft
from catalogue.formats.rows import Kind, Row, number, read_rows
from catalogue.formats.sums import byte_sum
from catalogue.shapes.reading import Field, Reading

SOURCE = "IEEE 1275-1994, FCode program header"
HEADER = 8
"""Bytes of a program before those under its sum."""
START_BYTES = {
    0xF0: "start0",
    0xF1: "start1",
    0xF2: "start2",
    0xF3: "start4",
    0xFD: "version1",
}

POINTER = Row(
    "fcode_offset", 0x02, 2, Kind.LE, "PCI Bus Binding to IEEE 1275, 9", "The FCode program, from the image's start"
)
ROWS = (
    Row("start_byte", 0, 1, Kind.BE, SOURCE, "FCode that starts the program"),
    Row("fcode_format", 1, 1, Kind.BE, SOURCE, "8 for FCode of this standard"),
    Row("checksum", 2, 2, Kind.BE, SOURCE, "16-bit sum of the bytes after the header"),
    Row("fcode_length", 4, 4, Kind.BE, SOURCE, "Bytes of the program with its header"),
)


def read_program(draft: Draft) -> None:
    """Add the pointer to the FCode program, and the program with its sum, which must hold."""
    view, start, end = draft.view, draft.start, draft.end
    pointer = read_rows((POINTER,), view, start)
    draft.fields += pointer.values()
    at = start + number(pointer, POINTER.name)
    found = read_rows(ROWS, view, at) if start < at <= end - HEADER else {}
    start_byte, length = number(found, "start_byte"), number(found, "fcode_length")
    if start_byte not in START_BYTES:
        draft.damaged("No FCode program begins where the image says.", start + 2)
        return
    if not HEADER <= length <= end - at:
        draft.damaged("The FCode program is longer than its image.", at + 4)
        return
    sum_ok = byte_sum(view.at(at + HEADER, length - HEADER)) & 0xFFFF == number(found, "checksum")
    if not sum_ok:
        draft.damaged("The FCode program's sum is not what its header says.", at + 2)
    meaning = "Whether the program sums to what its header says"
    fields = (*found.values(), Field("checksum_ok", sum_ok, None, 0, meaning, SOURCE))
    title = f"FCode program, {START_BYTES[start_byte]}"
    draft.parts.append(Reading("fcode", "fcode-program", title, at, length, fields))
