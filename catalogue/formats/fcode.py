"""Files that hold an FCode program alone, without an option ROM round it. The program is never run.

IEEE 1275-1994, 5.2.2.5 (FCode program header). Two bytes begin it, so the sum or the length must prove it.
"""

from __future__ import annotations

from catalogue.formats.limits import MAX_ROM_BYTES
from catalogue.formats.open_firmware import HEADER, ROWS, SOURCE, START_BYTES
from catalogue.formats.overlay import is_padding
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.rows import number, read_rows
from catalogue.formats.sums import byte_sum
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading, Span

_FORMAT = 8


def looks_like(view: View) -> Looks:
    """MAYBE of a start byte, the format's number and a length that fits."""
    head = view.at(0, HEADER)
    if len(head) < HEADER or head[0] not in START_BYTES or head[1] != _FORMAT:
        return Looks.NO
    return Looks.MAYBE if HEADER < int.from_bytes(head[4:], "big") <= min(view.size, MAX_ROM_BYTES) else Looks.NO


def read(view: View) -> Reading | None:
    """The program that `view` begins with; None where neither its sum nor its length proves that there is one."""
    if looks_like(view) is Looks.NO:
        return None
    found = read_rows(ROWS, view, 0)
    length = number(found, "fcode_length")
    sum_ok = byte_sum(view.at(HEADER, length - HEADER)) & 0xFFFF == number(found, "checksum")
    if not sum_ok and length != view.size:
        return None
    faults: list[Fault] = []
    if not sum_ok:
        faults.append(Fault("fcode-damaged", "The program's sum is not what its header says.", 2))
    spans = [Span("FCode program", 0, length)]
    notes: list[Fault] = []
    if length < view.size:
        padding = is_padding(view, length, view.size)
        spans.append(Span("padding" if padding else "behind the program", length, view.size - length))
        if not padding:
            notes.append(Fault("data-after-end", "Bytes lie behind the program.", length))
    meaning = "Whether the program sums to what its header says"
    return Reading(
        format=READER.name,
        kind="fcode-program",
        title=f"FCode program, {START_BYTES[number(found, 'start_byte')]}",
        length=view.size,
        fields=(*found.values(), Field("checksum_ok", sum_ok, None, 0, meaning, SOURCE)),
        faults=tuple(faults),
        notes=tuple(notes),
        spans=tuple(spans),
    )


READER = Reader(
    name="fcode",
    first=tuple(bytes((byte, _FORMAT)) for byte in START_BYTES),
    kinds=("fcode-program",),
    looks_like=looks_like,
    read=read,
    version=1,
    source="IEEE 1275-1994, 5.2.2.5",
    depth="header and sum of a program alone; what lies behind it",
)
