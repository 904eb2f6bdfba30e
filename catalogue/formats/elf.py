"""Linux programs and other ELF files. System V gABI, chapters 4 and 5; the Linux notes as the LSB gives them.

The headers are read here, the notes (build ID, system) by pyelftools, which gets a metered stream instead of the file,
so that no count or size in a damaged file keeps it busy.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import IO, Any, Literal, cast

from catalogue.formats import own_text
from catalogue.formats.elf_sections import data_stretches, module_info, read_sections
from catalogue.formats.limits import MAX_STRINGS, MAX_TEXT
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.rows import Found, Kind, Row, number, printable, read_rows
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading

SOURCE = "System V gABI, ELF header"
MAGIC = b"\x7fELF"
MACHINES = {
    2: "SPARC", 3: "IA-32", 8: "MIPS", 20: "PowerPC", 21: "PowerPC 64", 22: "S/390", 40: "ARM", 50: "IA-64",
    62: "x86-64", 183: "AArch64", 243: "RISC-V", 258: "LoongArch",
}  # fmt: skip
"""e_machine, as the registry of the gABI lists it (from memory)."""
TYPES = {1: "relocatable object", 2: "program", 3: "shared object", 4: "memory image (core)"}
SYSTEMS = {0: "System V", 1: "HP-UX", 2: "NetBSD", 3: "Linux", 6: "Solaris", 9: "FreeBSD", 12: "OpenBSD", 97: "ARM",
           255: "none (stands alone)"}  # fmt: skip
"""EI_OSABI (from memory)."""
_EXEC, _DYN = 2, 3
_LOAD, _DYNAMIC, _INTERP, _NOTE, _TLS = 1, 2, 3, 4, 7
"""p_type (gABI, Program Header)."""
_GNU_RELRO = 0x6474_E552
"""PT_GNU_RELRO (LSB): what a loader makes read-only. PT_GNU_STACK says nothing: firmware linked by the same tools has
it, and a dynamic segment too, where it moves itself in memory."""
_NEEDED, _STRINGS, _SONAME = 1, 5, 14
"""d_tag (gABI, Dynamic Section): another object that is needed; where the names stand; the object's own name."""
_SHARED = b".so"
"""Part of the name of a shared object (common practice, as linkers look for it); boot loaders' modules have others."""
_MAX_DYNAMIC, _MOST_NAME = 128, 128
_LINUX = 3
_IDENT = 16
_WIDTHS = {1: 4, 2: 8}
_LINUX_SYSTEMS = (0, 3)
MAX_LOOKS = 2_000
MAX_BYTES = 1 << 20
MAX_SEGMENTS = 64
MAX_NOTES = 32


def _rows(width: int, kind: Kind) -> tuple[Row, ...]:
    end = 0x18 + 3 * width + 4
    return (
        Row("type", 0x10, 2, kind, f"{SOURCE}, e_type", "1 relocatable, 2 program, 3 shared object, 4 core"),
        Row("machine", 0x12, 2, kind, f"{SOURCE}, e_machine", "Processor the code is for"),
        Row("entry", 0x18, width, kind, f"{SOURCE}, e_entry", "Address of the first instruction"),
        Row("segment_table", 0x18 + width, width, kind, f"{SOURCE}, e_phoff", "Offset of the program headers"),
        Row("section_table", 0x18 + 2 * width, width, kind, f"{SOURCE}, e_shoff", "Offset of the section headers"),
        Row("segment_size", end + 2, 2, kind, f"{SOURCE}, e_phentsize", "Bytes of one program header"),
        Row("segment_count", end + 4, 2, kind, f"{SOURCE}, e_phnum", "Program headers"),
        Row("section_size", end + 6, 2, kind, f"{SOURCE}, e_shentsize", "Bytes of one section header"),
        Row("section_count", end + 8, 2, kind, f"{SOURCE}, e_shnum", "Section headers"),
        Row("section_names", end + 10, 2, kind, f"{SOURCE}, e_shstrndx", "Which section holds the names"),
    )


def _segment_rows(width: int, kind: Kind) -> tuple[Row, ...]:
    source = "System V gABI, Program Header"
    return (
        Row("segment_type", 0, 4, kind, source, "What the segment is"),
        Row("segment_offset", width, width, kind, source, "Where it lies"),
        Row("segment_address", 2 * width, width, kind, source, "Where it lies in memory"),
        Row("segment_length", 4 * width, width, kind, source, "Bytes of it in the file"),
    )


class _SpentError(BaseException):
    """The meter has run out. A BaseException, so that no handler inside the library goes on regardless."""


class _Meter(io.RawIOBase):
    """A view as a stream that gives only so much. Keeps the OSError that the view raised."""

    def __init__(self, view: View) -> None:
        super().__init__()
        self._view = view
        self._at = 0
        self._looks = MAX_LOOKS
        self._bytes = MAX_BYTES
        self.failed: OSError | None = None

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        base = {io.SEEK_SET: 0, io.SEEK_CUR: self._at, io.SEEK_END: self._view.size}[whence]
        self._at = max(0, base + offset)
        return self._at

    def tell(self) -> int:
        return self._at

    def read(self, size: int = -1) -> bytes:
        left = max(0, self._view.size - self._at)
        length = left if size < 0 else min(size, left)
        self._looks -= 1
        self._bytes -= length
        if self._looks < 0 or self._bytes < 0:
            raise _SpentError
        try:
            data = self._view.at(self._at, length)
        except OSError as error:
            self.failed = error
            raise _SpentError from error
        self._at += len(data)
        return data


@dataclass(slots=True)
class _Segments:
    """What the program headers tell: fields, and whether one of them speaks of Linux or its loader."""

    fields: list[Field]
    linux: bool = False
    interpreter: bool = False
    damaged: bool = False
    loads: list[tuple[int, int, int]] = field(default_factory=list)


def looks_like(view: View) -> Looks:
    """SURE for the four magic bytes with a class and a byte order that exist."""
    head = view.at(0, 6)
    return Looks.SURE if head[:4] == MAGIC and len(head) == 6 and head[4] in _WIDTHS and head[5] in (1, 2) else Looks.NO


def read(view: View) -> Reading | None:
    """The ELF file that fills `view`; None where it is none."""
    if looks_like(view) is Looks.NO:
        return None
    head = view.at(0, _IDENT)
    width = _WIDTHS[head[4]]
    order = Kind.LE if head[5] == 1 else Kind.BE
    rows = _rows(width, order)
    found = read_rows(rows, view, 0)
    fields = [
        Field("class", 32 if head[4] == 1 else 64, 4, 1, "Bits of an address", f"{SOURCE}, EI_CLASS"),
        Field("byte_order", "little" if head[5] == 1 else "big", 5, 1, "Byte order", f"{SOURCE}, EI_DATA"),
    ]
    if len(head) > 7:
        fields.append(Field("os_abi", head[7], 7, 1, "Whose conventions it keeps", f"{SOURCE}, EI_OSABI"))
    fields += found.values()
    if len(found) < len(rows):
        fault = Fault("cut-short", "The file ends inside its ELF header.", view.size)
        return Reading("elf", "opaque", "ELF file cut short", length=view.size, fields=tuple(fields), faults=(fault,))
    segments = _segments(view, found, _segment_rows(width, order))
    kind, title = _named(number(found, "type"), head[7], segments, number(found, "machine"))
    notes: list[Fault] = []
    if segments.damaged:
        notes.append(Fault("elf-odd", "Its notes are damaged; they were read as far as they go."))
    faults: list[Fault] = []
    for stem, what in (("segment", "program headers"), ("section", "section headers")):
        at = number(found, f"{stem}_table")
        if at and at + number(found, f"{stem}_count") * number(found, f"{stem}_size") > view.size:
            offset = found[f"{stem}_table"].offset
            faults.append(Fault("cut-short", f"The file ends before its {what} do.", offset))
    sections = read_sections(view, found, width, order)
    module, claims = module_info(view, sections)
    texts = own_text.read(view, data_stretches(sections) if sections else [(0, view.size)])
    return Reading(
        format="elf",
        kind=kind,
        title=title,
        length=view.size,
        fields=(*fields, *segments.fields, *module),
        versions=(*claims, *texts.versions)[:MAX_STRINGS],
        dates=texts.dates,
        faults=tuple(faults),
        notes=tuple(notes),
    )


def _named(kind_of: int, system: int, segments: _Segments, machine: int) -> tuple[str, str]:
    """The kind and the title: only what speaks of Linux is a Linux program; firmware comes as ELF, too."""
    processor = MACHINES.get(machine, f"machine {machine}")
    what = TYPES.get(kind_of, f"file of type {kind_of}")
    if kind_of in (_EXEC, _DYN) and system in _LINUX_SYSTEMS and (system == _LINUX or segments.linux):
        shared = kind_of == _DYN and not segments.interpreter
        return "linux-program", f"Linux {'shared library' if shared else 'program'}, {processor}"
    if kind_of in (_EXEC, _DYN) and system in _LINUX_SYSTEMS:
        return "opaque", f"ELF {what} that names no system (firmware comes so, too), {processor}"
    if kind_of in (_EXEC, _DYN):
        return "opaque", f"ELF {what} for {SYSTEMS.get(system, f'system {system}')}, {processor}"
    return "opaque", f"ELF {what}, {processor}"


def _segments(view: View, found: Found, rows: Sequence[Row]) -> _Segments:
    """Walk the program headers, at most MAX_SEGMENTS."""
    answer = _Segments([])
    table, step = number(found, "segment_table"), number(found, "segment_size")
    dynamic: tuple[int, int] | None = None
    for index in range(min(number(found, "segment_count"), MAX_SEGMENTS)):
        header = read_rows(rows, view, table + index * step)
        kind, offset, length = (number(header, name) for name in ("segment_type", "segment_offset", "segment_length"))
        if kind == _INTERP:
            answer.linux = answer.interpreter = True
            path = view.at(offset, min(length, MAX_TEXT)).split(b"\0", 1)[0]
            source = "System V gABI, Program Interpreter"
            field = Field("interpreter", printable(path), offset, len(path), "The loader it asks for", source)
            if path and all(one.name != "interpreter" for one in answer.fields):
                answer.fields.append(field)
        elif kind == _NOTE:
            _notes(view, offset, length, answer)
        elif kind in (_TLS, _GNU_RELRO):
            answer.linux = True
        elif kind == _LOAD:
            answer.loads.append((number(header, "segment_address"), offset, length))
        elif kind == _DYNAMIC:
            dynamic = (offset, length)
    if dynamic is not None and not answer.linux:
        answer.linux = _is_linked(view, *dynamic, answer.loads, rows[0])
    return answer


def _is_linked(view: View, offset: int, length: int, loads: Sequence[tuple[int, int, int]], row: Row) -> bool:
    """Whether a dynamic segment names a shared object, another one or itself: only what Linux's loader reads does."""
    width = _WIDTHS[view.at(4, 1)[0]]
    order: Literal["little", "big"] = "little" if row.kind is Kind.LE else "big"
    table = view.at(offset, min(length, 2 * width * _MAX_DYNAMIC))
    numbers = [int.from_bytes(table[at : at + width], order) for at in range(0, len(table) - width + 1, width)]
    entries = list(zip(numbers[::2], numbers[1::2], strict=False))
    address = next((value for tag, value in entries if tag == _STRINGS), 0)
    where = next((at + address - start for start, at, size in loads if start <= address < start + size), None)
    if where is None:
        return False
    names = (view.at(where + value, _MOST_NAME) for tag, value in entries if tag in (_NEEDED, _SONAME))
    return any(_SHARED in name.split(b"\0", 1)[0] for name in names)


def _notes(view: View, offset: int, length: int, answer: _Segments) -> None:
    """The notes of one segment, by pyelftools."""
    from elftools.elf.elffile import ELFFile  # takes 40 ms, and few files need it
    from elftools.elf.notes import iter_notes

    meter = _Meter(view)
    try:
        for note in islice(iter_notes(ELFFile(cast("IO[bytes]", meter)), offset, length), MAX_NOTES):
            _note(note, answer, view.size)
    except (Exception, _SpentError):
        # pyelftools promises no set of exceptions for damaged input; what it had read until then is kept.
        answer.damaged = True
    if meter.failed is not None:
        raise meter.failed


def _note(note: Mapping[str, Any], answer: _Segments, size: int) -> None:
    names = {one.name for one in answer.fields}
    if note["n_type"] == "NT_GNU_BUILD_ID" and "build_id" not in names:
        at = note["n_offset"] + 12 + (note["n_namesz"] + 3) // 4 * 4
        value, length = str(note["n_desc"])[:128], note["n_descsz"]
        if value and at + length <= size:
            answer.fields.append(Field("build_id", value, at, length, "Digest of the build", "LSB, NT_GNU_BUILD_ID"))
    elif note["n_type"] == "NT_GNU_ABI_TAG":
        answer.linux = answer.linux or "LINUX" in str(note["n_desc"]).upper()


READER = Reader(
    first=(MAGIC,),
    name="elf",
    kinds=("linux-program", "opaque"),
    looks_like=looks_like,
    read=read,
    version=3,
    source="System V gABI",
    depth="class, byte order, machine, type, interpreter, build ID, what a kernel module says of itself; version-like "
    "strings and dates in its data",
)
