"""TE images: PE images with their headers cut down to what EFI needs. Read inside other formats, never on their own.

UEFI Platform Initialization Specification, volume 1, chapter 15 (TE Image). Section headers follow the header; their
file offsets are those of the PE image it was made of, from which the stripped bytes have gone.
"""

from __future__ import annotations

from catalogue.formats.pe import MACHINES, SUBSYSTEMS
from catalogue.formats.pe_sections import HEADER_BYTES, read_sections
from catalogue.formats.rows import Kind, Row, number, read_rows
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Reading, Span

SOURCE = "PI Specification, volume 1, 15.4"
SIGNATURE = b"VZ"
HEADER = 40
_ROWS = (
    Row("machine", 2, 2, Kind.LE, SOURCE, "Processor the code is for"),
    Row("section_count", 4, 1, Kind.LE, SOURCE, "Entries of the section table"),
    Row("subsystem", 5, 1, Kind.LE, SOURCE, "Which system runs it"),
    Row("stripped_size", 6, 2, Kind.LE, SOURCE, "Bytes of the PE image's headers that are gone"),
    Row("entry_point", 8, 4, Kind.LE, SOURCE, "Address of the first instruction"),
    Row("code_base", 12, 4, Kind.LE, SOURCE, "Address of the code"),
    Row("image_base", 16, 8, Kind.LE, SOURCE, "Address the image is made for"),
    Row("relocations_address", 24, 4, Kind.LE, SOURCE, "Address of the base relocations; 0 for none"),
    Row("relocations_size", 28, 4, Kind.LE, SOURCE, "Bytes of the base relocations"),
    Row("debug_address", 32, 4, Kind.LE, SOURCE, "Address of the debug directory; 0 for none"),
    Row("debug_size", 36, 4, Kind.LE, SOURCE, "Bytes of the debug directory"),
)


def read(view: View) -> Reading | None:
    """The TE image that fills `view`; None where none begins there or its header is not whole.

    Raises nothing but the view's own OSError.
    """
    head = view.at(0, HEADER)
    if head[:2] != SIGNATURE or len(head) < HEADER:
        return None
    found = read_rows(_ROWS, view, 0)
    machine, subsystem, count = (number(found, name) for name in ("machine", "subsystem", "section_count"))
    kind, what = SUBSYSTEMS.get(subsystem, ("opaque", f"image for subsystem {subsystem}"))
    sections = read_sections(view, HEADER, count)
    end = HEADER + HEADER_BYTES * len(sections)
    faults: list[Fault] = []
    if len(sections) < count:
        faults.append(Fault("cut-short", "The file ends inside its section table.", end))
    spans = [Span("headers", 0, end)]
    gone = number(found, "stripped_size") - HEADER
    for index, one in enumerate(sections):
        at = one.offset - gone
        length = min(one.size, view.size - at) if at >= end else 0
        if length > 0:
            spans.append(Span(f"section {one.name}", at, length))
        if length < one.size:
            text = f"Its section {one.name} does not lie whole behind the headers."
            faults.append(Fault("cut-short", text, HEADER + HEADER_BYTES * index + 16))
    return Reading(
        format="te",
        kind=kind,
        title=f"{what}, {MACHINES.get(machine, f'machine {machine:04X}h')}, TE",
        length=view.size,
        fields=tuple(found.values()),
        faults=tuple(faults),
        spans=tuple(spans),
    )
