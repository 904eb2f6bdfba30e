"""EFI and Windows programs and drivers: PE images.

Microsoft PE Format (PE/COFF); UEFI Specification, "UEFI Images" (which subsystem is which kind of image).
"""

from __future__ import annotations

from dataclasses import dataclass, field

from catalogue.formats import own_text, sbat
from catalogue.formats.appended import behind, self_extracting
from catalogue.formats.image_digest import Outline
from catalogue.formats.limits import MAX_STRINGS
from catalogue.formats.overlay import is_padding
from catalogue.formats.pe_sections import HEADER_BYTES, MAX_SECTIONS, Section, read_sections
from catalogue.formats.pe_version import read_version_info
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.rows import Found, Kind, Row, number, read_rows
from catalogue.formats.view import View
from catalogue.shapes.reading import DateClaim, Fault, Field, Reading, Span, VersionClaim

SOURCE = "Microsoft PE Format"
POINTER = 0x3C
"""Where an MZ program says at which offset its newer header stands ("MS-DOS Stub")."""
SIGNATURE = b"PE\0\0"
MACHINES = {
    0x014C: "IA-32",
    0x01C2: "ARM",
    0x0200: "IA-64",
    0x0EBC: "EFI byte code",
    0x5064: "RISC-V 64",
    0x6264: "LoongArch64",
    0x8664: "x86-64",
    0xAA64: "AArch64",
}
"""PE Format, "Machine Types"."""
SUBSYSTEMS = {
    1: ("windows-program", "Windows driver or native program"),
    2: ("windows-program", "Windows program"),
    3: ("windows-program", "Windows console program"),
    5: ("windows-program", "OS/2 console program"),
    7: ("windows-program", "POSIX console program"),
    9: ("windows-program", "Windows CE program"),
    10: ("efi-application", "EFI application"),
    11: ("efi-driver", "EFI boot-service driver"),
    12: ("efi-driver", "EFI run-time driver"),
    13: ("efi-driver", "EFI ROM image"),
    16: ("windows-program", "Windows boot application"),
}
"""PE Format, "Windows Subsystem"."""

_FILE_HEADER = (
    Row("machine", 4, 2, Kind.LE, f"{SOURCE}, COFF File Header", "Processor the code is for"),
    Row("section_count", 6, 2, Kind.LE, f"{SOURCE}, COFF File Header", "Entries of the section table"),
    Row("timestamp", 8, 4, Kind.LE, f"{SOURCE}, COFF File Header", "Seconds since 1970, or a digest of the build"),
    Row("symbol_table", 12, 4, Kind.LE, f"{SOURCE}, COFF File Header", "Offset of the symbol table; 0 for none"),
    Row("symbol_count", 16, 4, Kind.LE, f"{SOURCE}, COFF File Header", "Entries of the symbol table"),
    Row("optional_header_size", 20, 2, Kind.LE, f"{SOURCE}, COFF File Header", "Bytes of the optional header"),
    Row("characteristics", 22, 2, Kind.LE, f"{SOURCE}, COFF File Header", "Flags of the image"),
)
_OPTIONAL_AT = 24
_OPTIONAL = (
    Row("optional_magic", 0, 2, Kind.LE, f"{SOURCE}, Optional Header", "10Bh: PE32, 20Bh: PE32+"),
    Row("entry_point", 16, 4, Kind.LE, f"{SOURCE}, Optional Header", "Address of the first instruction"),
    Row("image_size", 56, 4, Kind.LE, f"{SOURCE}, Optional Header", "Bytes of the image in memory"),
    Row("headers_size", 60, 4, Kind.LE, f"{SOURCE}, Optional Header", "Bytes of all headers"),
    Row("checksum", 64, 4, Kind.LE, f"{SOURCE}, Optional Header", "Checksum of the file; 0 where unused"),
    Row("subsystem", 68, 2, Kind.LE, f"{SOURCE}, Optional Header", "Which system runs it"),
)
_DIRECTORIES = {0x10B: 96, 0x20B: 112}
"""Where in the optional header the data directories begin; their count stands 4 bytes before."""
_RESOURCES, _CERTIFICATES = 2, 4
_CHECKSUM_AT = 64
_TEXTS = (".text", ".rdata", ".rodata", ".data", ".sdmagic")
"""Sections that hold a program's texts (PE Format, "Special Sections"; `.sdmagic` as systemd-boot writes it)."""
_SYMBOL_BYTES = 18
_UNSIGNED = Field("signed_by", (), None, 0, "Whose keys made the signatures; the image has none", SOURCE)


@dataclass(slots=True)
class _Image:
    """What is known of one image while it is read."""

    view: View
    start: int
    found: Found
    sections: tuple[Section, ...]
    fields: list[Field] = field(default_factory=list)
    versions: list[VersionClaim] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[Fault] = field(default_factory=list)
    spans: list[Span] = field(default_factory=list)
    parts: list[Reading] = field(default_factory=list)
    dates: tuple[DateClaim, ...] = ()


def header_offset(view: View) -> int | None:
    """Where the PE signature of an MZ program stands, None where it is no PE image."""
    head = view.at(0, POINTER + 4)
    if head[:2] != b"MZ" or len(head) < POINTER + 4:
        return None
    at = int.from_bytes(head[POINTER:], "little")
    return at if view.at(at, 4) == SIGNATURE else None


def looks_like(view: View) -> Looks:
    """SURE where an MZ header leads to a PE signature."""
    return Looks.NO if header_offset(view) is None else Looks.SURE


def read(view: View, *, padded: bool = False) -> Reading | None:
    """The PE image that fills `view`, and what lies behind it; None where it is none.

    `padded`: it may end before `view` does, so padding behind its certificate table is no part of it.
    """
    start = header_offset(view)
    if start is None:
        return None
    found = read_rows(_FILE_HEADER, view, start)
    optional = start + _OPTIONAL_AT
    optional_size = number(found, "optional_header_size")
    known = tuple(row for row in _OPTIONAL if row.offset + row.size <= optional_size)
    if known:
        found.update(read_rows(known, view, optional))
    sections = read_sections(view, optional + optional_size, number(found, "section_count"))
    image = _Image(view, start, found, sections, list(found.values()))
    directories = _directories(image, optional, optional_size)
    certificates = _certificates(image, optional, directories.get(_CERTIFICATES), padded)
    end = _spans(image, optional + optional_size)
    _behind(image, end, certificates)
    resources = directories.get(_RESOURCES)
    if resources is not None:
        _version_info(image, resources[0])
    _own_words(image)
    return _reading(image)


def read_driver(view: View) -> Reading | None:
    """The EFI image in an option ROM: `view` is the stretch it lies in, and offsets count from that view's start.

    The stretch is filled up to whole blocks of 512 bytes, as all images of a ROM are.
    """
    return read(view, padded=True)


def outline(view: View, *, padded: bool = False) -> Outline | None:
    """What the digest of the PE image that fills `view` covers, signed or not; None where it is none."""
    start = header_offset(view)
    if start is None:
        return None
    found = read_rows(_FILE_HEADER, view, start)
    optional, size = start + _OPTIONAL_AT, number(found, "optional_header_size")
    magic_and_headers = tuple(row for row in _OPTIONAL if row.offset + row.size <= size)
    if len(magic_and_headers) < len(_OPTIONAL):
        return None
    found.update(read_rows(magic_and_headers, view, optional))
    image = _Image(view, start, found, read_sections(view, optional + size, number(found, "section_count")))
    headers = number(found, "headers_size")
    directories = _DIRECTORIES.get(number(found, "optional_magic"))
    if directories is None or directories + 8 * (_CERTIFICATES + 1) > size:
        return None
    entry = optional + directories + 8 * _CERTIFICATES
    at, length, _where = _directories(image, optional, size).get(_CERTIFICATES, (view.size, 0, entry))
    at = min(at, view.size)
    stop = min(at + length, view.size)
    return Outline(optional + _CHECKSUM_AT, entry, headers, image.sections, (at, stop), _end(view, stop, padded))


def _end(view: View, stop: int, padded: bool) -> int | None:
    """Where a padded image ends: at `stop`, the end of its signatures, if nothing but padding follows."""
    return stop if padded and stop < view.size and is_padding(view, stop, view.size) else None


def _reading(image: _Image) -> Reading:
    found = image.found
    subsystem = number(found, "subsystem")
    if "subsystem" in found and number(found, "optional_magic") not in _DIRECTORIES:
        kind, what = "opaque", "PE signature before a header of no known form"
    elif "subsystem" in found:
        kind, what = SUBSYSTEMS.get(subsystem, ("windows-program", f"PE image for subsystem {subsystem}"))
    else:
        kind, what = "opaque", "PE image whose header is cut short"
        image.faults.append(
            Fault("cut-short", "The optional header ends before it says which system runs the image.", image.start)
        )
    machine = number(found, "machine")
    title = f"{what}, {MACHINES.get(machine, f'machine {machine:04X}h')}"
    name = next((one.value for one in image.fields if one.name == "string_FileDescription"), None)
    if isinstance(name, str) and name.strip():
        title += f": {name.strip()[:80]}"
    return Reading(
        format="pe",
        kind=kind,
        title=title,
        length=image.view.size,
        fields=tuple(image.fields),
        parts=tuple(image.parts),
        versions=tuple(image.versions[:MAX_STRINGS]),
        dates=image.dates,
        faults=tuple(image.faults),
        notes=tuple(image.notes),
        spans=tuple(image.spans),
    )


def _directories(image: _Image, optional: int, optional_size: int) -> dict[int, tuple[int, int, int]]:
    """The data directories that are there and not empty: address, size, and where the entry stands."""
    at = _DIRECTORIES.get(number(image.found, "optional_magic"))
    if at is None or at > optional_size:
        return {}
    count = int.from_bytes(image.view.at(optional + at - 4, 4), "little")
    table = image.view.at(optional + at, min(8 * count, optional_size - at, 8 * 16))
    answer: dict[int, tuple[int, int, int]] = {}
    for index in (_RESOURCES, _CERTIFICATES):
        entry = table[8 * index : 8 * index + 8]
        address, size = int.from_bytes(entry[:4], "little"), int.from_bytes(entry[4:], "little")
        if len(entry) == 8 and address and size:
            answer[index] = (address, size, optional + at + 8 * index)
    return answer


def _certificates(
    image: _Image, optional: int, entry: tuple[int, int, int] | None, padded: bool
) -> tuple[int, int] | None:
    """The certificate table as [start, end), read: its directory's "address" is a file offset."""
    if entry is None:
        image.fields.append(_UNSIGNED)
        return None
    offset, size, at = entry
    source = f"{SOURCE}, The Attribute Certificate Table"
    image.fields += (
        Field("certificate_table_offset", offset, at, 4, "Where the signatures lie in the file", source),
        Field("certificate_table_length", size, at + 4, 4, "Bytes of the signatures", source),
    )
    if offset + size > image.view.size:
        image.faults.append(Fault("cut-short", "The file ends before its certificate table does.", at))
    length = min(size, image.view.size - offset)
    if length <= 0:
        image.fields.append(_UNSIGNED)
        return None
    image.spans.append(Span("certificate table", offset, length))
    from catalogue.formats.pe_signature import read_signatures

    checksum, headers = optional + _CHECKSUM_AT, number(image.found, "headers_size")
    stop = offset + length
    end = _end(image.view, stop, padded)
    found = read_signatures(image.view, Outline(checksum, at, headers, image.sections, (offset, stop), end))
    image.fields += found.fields
    image.parts += found.parts
    image.faults += found.faults
    image.notes += found.notes
    if end is not None:
        # TianoCore EDK II, PciOptionRomSupport.c (LocalLoadFile2) and DxeImageVerificationLib.c (HashPeImage, step 16).
        text = (
            f"What was signed is compared without the {image.view.size - end} bytes of padding behind the image; "
            "reference firmware counts them in, and may refuse the driver under Secure Boot."
        )
        image.notes.append(Fault("padding-not-signed", text, end))
    return offset, stop


def _spans(image: _Image, table: int) -> int:
    """Note headers and sections as spans; answers where the last of them and of the symbols ends."""
    count, size = number(image.found, "section_count"), image.view.size
    if len(image.sections) < min(count, MAX_SECTIONS):
        image.faults.append(Fault("cut-short", "The file ends inside its section table.", min(table, size)))
    elif count > MAX_SECTIONS:
        image.notes.append(Fault("too-many", f"Of {count} sections {MAX_SECTIONS} are read.", image.start + 6))
    head = min(table + HEADER_BYTES * len(image.sections), size)
    image.spans.insert(0, Span("headers", 0, head))
    ends = [head]
    for index, one in enumerate(image.sections):
        if not one.size:
            continue
        if one.end > size:
            image.faults.append(
                Fault(
                    "cut-short",
                    f"The file ends before its section {one.name} does.",
                    table + HEADER_BYTES * index + 16,
                )
            )
        length = min(one.size, size - one.offset)
        if length > 0:
            image.spans.append(Span(f"section {one.name}", one.offset, length))
            ends.append(one.offset + length)
    ends.append(_symbols_end(image))
    return max(ends)


def _symbols_end(image: _Image) -> int:
    """Where the symbol table and the string table behind it end ("COFF Symbol Table", "COFF String Table")."""
    at, count = number(image.found, "symbol_table"), number(image.found, "symbol_count")
    strings = at + count * _SYMBOL_BYTES
    if not at or not count or strings > image.view.size:
        return 0
    length = int.from_bytes(image.view.at(strings, 4), "little")
    end = min(strings + max(length, 4), image.view.size)
    image.spans.append(Span("symbols", at, end - at))
    return end


def _behind(image: _Image, end: int, certificates: tuple[int, int] | None) -> None:
    """What lies behind the image: padding, an archive, or bytes that nothing explains."""
    stretches = [(end, image.view.size)]
    if certificates is not None:
        stretches = [(end, certificates[0]), (max(end, certificates[1]), image.view.size)]
    for start, stop in stretches:
        if stop <= start:
            continue
        if is_padding(image.view, start, stop):
            image.spans.append(Span("padding", start, stop - start))
            continue
        image.spans.append(Span("overlay", start, stop - start))
        image.fields.append(Field("overlay", stop - start, start, stop - start, "Bytes behind the program", ""))
        archive = behind(image.view, start, stop)
        if archive is not None:
            image.parts.append(archive)
            image.notes.append(self_extracting(archive))
        else:
            image.notes.append(Fault("data-after-end", "Bytes lie behind the program; no header explains them.", start))
        return


def _version_info(image: _Image, directory: int) -> None:
    info = read_version_info(image.view, image.sections, directory)
    if info is None:
        return
    image.fields += info.fields
    image.versions += info.versions
    if info.cut:
        image.notes.append(Fault("version-tangled", "The version resource is damaged; it was read as far as it goes."))


def _own_words(image: _Image) -> None:
    """What the sections say of the program in words."""
    for one in image.sections:
        if one.name == sbat.SECTION and one.offset + one.size <= image.view.size:
            found = sbat.read(image.view, one.offset, one.size)
            image.fields += found.fields
            image.versions += found.versions
            break
    stretches = [(one.offset, one.end) for one in image.sections if one.name in _TEXTS]
    texts = own_text.read(image.view, stretches)
    image.versions += texts.versions
    image.dates = texts.dates


READER = Reader(
    first=(b"MZ",),
    name="pe",
    kinds=("efi-driver", "efi-application", "windows-program", "opaque"),
    looks_like=looks_like,
    read=read,
    version=5,
    source="Microsoft PE Format; Authenticode PE format (2008); UEFI Specification, UEFI Images",
    depth="machine, subsystem, sections, version resource, signatures (signers, chains, digest compared, time stamps), "
    "what lies behind, SBAT entries; version-like strings and dates in its data",
)
