"""DOS programs: MZ, alone or with an extended (LE, LX) or a Windows (NE) program behind it; COM by its name alone.

Microsoft PE Format, "MS-DOS Stub" (3Ch leads to a newer header). The rest from memory: the MZ header as the DOS
technical reference gives it; NE target systems (36h) and LE/LX target systems (0Ah) as the makers of those systems gave
them. Programs whose newer header is PE are read by `pe`.
"""

from __future__ import annotations

from catalogue.formats import date_stamps, versions
from catalogue.formats.appended import behind, self_extracting
from catalogue.formats.overlay import is_padding
from catalogue.formats.pe import header_offset
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.rows import Found, Kind, Row, number, read_rows
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading, Span

SOURCE = "MZ header (from memory)"
PAGE = 512
PARAGRAPH = 16
HEADER_BYTES = 0x1C
POINTER = 0x3C
MAX_COM = 65_280
"""A COM program shares one 64 KiB segment with its 256-byte prefix (PSP); common practice, no published source."""

_ROWS = (
    Row("last_page_bytes", 0x02, 2, Kind.LE, SOURCE, "Bytes in the last page; 0 for a full one"),
    Row("pages", 0x04, 2, Kind.LE, SOURCE, "Pages of 512 bytes, the last one included"),
    Row("relocations", 0x06, 2, Kind.LE, SOURCE, "Entries of the relocation table"),
    Row("header_size", 0x08, 2, Kind.LE, SOURCE, "Bytes of the header", PARAGRAPH),
    Row("least_memory", 0x0A, 2, Kind.LE, SOURCE, "Bytes of memory needed besides the program", PARAGRAPH),
    Row("initial_stack", 0x10, 2, Kind.LE, SOURCE, "SP at the start"),
    Row("checksum", 0x12, 2, Kind.LE, SOURCE, "Sum of the file's words; seldom used"),
    Row("entry", 0x14, 2, Kind.LE, SOURCE, "IP at the start"),
    Row("relocation_table", 0x18, 2, Kind.LE, SOURCE, "Where the relocation table stands; 40h and more: newer header"),
)
_MOST_PAGES, _MEMORY = 2_048, 0xF_FFFF
"""A program and the memory it is loaded into: 1 MiB is all that such a processor reaches (8086, 20-bit addresses)."""
_NE_SYSTEMS = {1: "OS/2", 2: "Windows", 3: "European DOS 4", 4: "Windows (386)", 5: "extended DOS"}
_LE_SYSTEMS = {1: "OS/2", 2: "Windows", 3: "DOS 4", 4: "Windows (386)"}
_LE_WINDOWS = 4


def looks_like(view: View) -> Looks:
    """SURE for an MZ header that makes sense and leads to no PE signature."""
    return Looks.SURE if _makes_sense(view) and header_offset(view) is None else Looks.NO


def read(view: View) -> Reading | None:
    """The DOS program that fills `view`, and what lies behind it; None where it is none."""
    if looks_like(view) is Looks.NO:
        return None
    found = read_rows(_ROWS, view, 0)
    fields = list(found.values())
    end = _image_end(found)
    fields.append(Field("program_size", end, 0x02, 4, "(pages − 1) × 512 + last page bytes", SOURCE))
    pointer = int.from_bytes(view.at(POINTER, 4), "little")
    signature = view.at(pointer, 2) if pointer >= POINTER + 4 else b""
    if signature in (b"NE", b"LE", b"LX"):
        return _newer(view, fields, end, pointer, signature.decode("ascii"))
    if number(found, "relocation_table") >= POINTER + 4 and pointer >= view.size:
        return _cut(view, fields)
    return _plain(view, fields, end)


def as_com(size: int) -> Reading | None:
    """The reading of a piece of `size` bytes that nothing but its name, *.com, tells to be a DOS program.

    None where no COM program is that long. For pieces that no reader knows (kind `opaque`) only.
    """
    if not 0 < size <= MAX_COM:
        return None
    return Reading("dos-com", "dos-program", "DOS COM program, by its name alone", length=size)


def _makes_sense(view: View) -> bool:
    if view.at(0, 2) != b"MZ":
        return False
    head = view.at(0, HEADER_BYTES)
    if len(head) < HEADER_BYTES:
        return False
    words = [int.from_bytes(head[at : at + 2], "little") for at in range(2, HEADER_BYTES, 2)]
    last, pages, relocations, header, least, most, stack_segment, _, _, entry, code_segment, table, _ = words
    if not 0 < pages <= _MOST_PAGES or last > PAGE or not 2 <= header <= pages * (PAGE // PARAGRAPH) or least > most:
        return False
    # Relocations stand in the header; the program begins inside itself and has its stack in the memory it asks for.
    if relocations and not HEADER_BYTES <= table <= table + 4 * relocations <= header * PARAGRAPH:
        return False
    module = pages * PAGE - header * PARAGRAPH
    start = (code_segment * PARAGRAPH + entry) & _MEMORY
    return start < module and (stack_segment * PARAGRAPH) & _MEMORY <= module + most * PARAGRAPH


def _image_end(found: Found) -> int:
    """(word 04h − 1) × 512 + word 02h, where 0 stands for a full page."""
    return (number(found, "pages") - 1) * PAGE + (number(found, "last_page_bytes") or PAGE)


def _newer(view: View, fields: list[Field], stub_end: int, pointer: int, signature: str) -> Reading:
    source = f"{signature} header (from memory)"
    fields.append(Field("newer_header", signature, pointer, 2, "The program behind the DOS one", source))
    at = pointer + (0x36 if signature == "NE" else 0x0A)
    raw = view.at(at, 1 if signature == "NE" else 2)
    system = int.from_bytes(raw, "little")
    if raw:
        fields.append(Field("target_system", system, at, len(raw), "The system it was made for", source))
    kind = "dos-program"
    if signature == "NE":
        kind, title = "windows-program", f"16-bit program for {_NE_SYSTEMS.get(system, 'an unknown system')} (NE)"
    elif signature == "LE" and system == _LE_WINDOWS:
        kind, title = "windows-program", "Windows virtual device driver (LE)"
    else:
        made_for = _LE_SYSTEMS.get(system, "an unknown system")
        title = f"DOS-extended program (MZ+{signature}, header for {made_for})"
    archive = behind(view, min(stub_end, pointer), view.size)
    stub = min(stub_end, pointer, view.size)
    return Reading(
        format="dos-program",
        kind=kind,
        title=title,
        length=view.size,
        fields=tuple(fields),
        parts=() if archive is None else (archive,),
        versions=versions.find(view) if kind == "dos-program" else (),
        dates=date_stamps.find(view) if kind == "dos-program" else (),
        notes=() if archive is None else (self_extracting(archive),),
        spans=(Span("DOS program", 0, stub), Span(f"{signature} program", stub, view.size - stub)),
    )


def _cut(view: View, fields: list[Field]) -> Reading:
    """A program whose newer header lies past the end: which system it is for stands in the part that is missing."""
    return Reading(
        format="dos-program",
        kind="opaque",
        title="Program cut short before its newer header",
        length=view.size,
        fields=tuple(fields),
        faults=(Fault("cut-short", "The file ends before the header that 3Ch points to.", POINTER),),
        spans=(Span("cut program", 0, view.size),),
    )


def _plain(view: View, fields: list[Field], end: int) -> Reading:
    faults: list[Fault] = []
    notes: list[Fault] = []
    parts: list[Reading] = []
    spans = [Span("DOS program", 0, min(end, view.size))]
    if end > view.size:
        faults.append(Fault("cut-short", f"The header counts {end} bytes, the file has {view.size}.", 2))
    elif end < view.size:
        length = view.size - end
        if is_padding(view, end, view.size):
            spans.append(Span("padding", end, length))
        else:
            spans.append(Span("overlay", end, length))
            fields.append(Field("overlay", length, end, length, "Bytes behind the program", SOURCE))
            archive = behind(view, end, view.size)
            if archive is not None:
                parts.append(archive)
                notes.append(self_extracting(archive))
            else:
                text = "Bytes lie behind the program that its header does not count."
                notes.append(Fault("data-after-end", text, end))
    return Reading(
        format="dos-program",
        kind="dos-program",
        title="DOS program (MZ)",
        length=view.size,
        fields=tuple(fields),
        parts=tuple(parts),
        versions=versions.find(view),
        dates=date_stamps.find(view),
        faults=tuple(faults),
        notes=tuple(notes),
        spans=tuple(spans),
    )


READER = Reader(
    first=(b"MZ",),
    name="dos-program",
    kinds=("dos-program", "windows-program", "opaque"),
    looks_like=looks_like,
    read=read,
    version=4,
    source="Microsoft PE Format, MS-DOS Stub; MZ, NE, LE and LX headers from memory",
    depth="size by the header, the newer header and its target system, what lies behind, version-like strings, dates",
)
