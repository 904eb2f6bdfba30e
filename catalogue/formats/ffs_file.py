"""Files of a UEFI firmware volume (FFS1, FFS2, FFS3): headers, both sums, and what their sections hold.

PI Specification, volume 3, 3.2.3 (EFI_FFS_FILE_HEADER), 3.2.5 (file types, states and integrity).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from itertools import chain

from catalogue.formats import inner
from catalogue.formats.ffs_section import OF_SECTION, Found, read_sections
from catalogue.formats.fill import used_end
from catalogue.formats.limits import MAX_FIELDS, MAX_PARTS, MAX_STRINGS, MAX_VOLUME_FAULTS
from catalogue.formats.rows import Kind, Row, number, read_rows
from catalogue.formats.sums import byte_sum
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading, Span, VersionClaim

SOURCE = "PI Specification, volume 3, 3.2.3"
HEADER, LARGE_HEADER = 24, 32
_ROWS = (
    Row("file_name", 0, 16, Kind.GUID, SOURCE, "GUID by which the file is known"),
    Row("header_checksum", 16, 1, Kind.LE, SOURCE, "Makes the header's bytes sum to 0"),
    Row("data_checksum", 17, 1, Kind.LE, SOURCE, "Makes the content's bytes sum to 0, or a fixed value"),
    Row("file_type", 18, 1, Kind.LE, SOURCE, "What the file is for"),
    Row("file_attributes", 19, 1, Kind.LE, SOURCE, "Bit 6: its content has a sum; bit 0: above 16 MiB"),
    Row("file_size", 20, 3, Kind.LE, SOURCE, "Bytes of the file, header included"),
    Row("state", 23, 1, Kind.LE, SOURCE, "How far writing and deleting it went"),
)
_LARGE_SIZE = Row("large_size", 24, 8, Kind.LE, SOURCE, "Bytes of a file above 16 MiB, header included")
_LARGE, _SUMMED = 0x01, 0x40
_FIXED = {0xAA, 0x5A}
"""The data checksum where the content has none: FFS2 and 3, FFS1."""
_VALID, _DELETED = 0x04, 0x10
_RAW, _PAD = 0x01, 0xF0
TYPES = {
    0x01: "raw file",
    0x02: "file of sections",
    0x03: "security core",
    0x04: "PEI core",
    0x05: "DXE core",
    0x06: "PEI module",
    0x07: "driver",
    0x08: "PEI module and driver",
    0x09: "application",
    0x0A: "management mode driver",
    0x0B: "volume image",
    0x0C: "management mode and DXE driver",
    0x0D: "management mode core",
    0x0E: "standalone management mode driver",
    0x0F: "standalone management mode core",
}

VolumeReader = Callable[[View, int, int], Reading]


@dataclass(slots=True)
class Files:
    """The files of one volume: as parts, and how many there are (padding left out).

    `spans`: every file, padding too, and the free space behind the last one.
    """

    parts: tuple[Reading, ...] = ()
    count: int = 0
    spans: list[Span] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[Fault] = field(default_factory=list)


def read_files(
    view: View, base: int, start: int, end: int, erased: int, large: bool, depth: int, volume: VolumeReader
) -> Files:
    """The files in [start, end) of the volume at `base`; `volume` reads volumes inside them.

    Raises nothing but the view's own OSError.
    """
    files = Files()
    parts: list[Reading] = []
    blank = bytes([erased]) * HEADER
    at = start
    while at + HEADER <= end and len(files.faults) < MAX_VOLUME_FAULTS:
        if view.at(at, HEADER) == blank:
            break
        found = read_rows(_ROWS, view, at)
        size, head = number(found, "file_size"), HEADER
        if large and number(found, "file_attributes") & _LARGE:
            found.update(read_rows((_LARGE_SIZE,), view, at))
            size, head = number(found, "large_size"), LARGE_HEADER
        if not head <= size <= end - at:
            text = f"A file's size, {size} bytes, does not fit the volume; what follows is not read."
            files.faults.append(Fault("volume-damaged", text, at + 20))
            break
        if number(found, "file_type") != _PAD:
            files.count += 1
            if not inner.allowed(size):
                files.notes.append(
                    Fault("volume-unread", "The files from here on were not read: there are too many.", at)
                )
                break
            if len(parts) < MAX_PARTS:
                parts.append(_file(view, at, size, head, list(found.values()), erased, depth, volume))
                files.faults += parts[-1].faults
                files.notes += parts[-1].notes
                files.spans.append(Span(parts[-1].title, at, size))
        elif len(files.spans) < MAX_FIELDS:
            files.spans.append(Span("padding file", at, size))
        at = base + (at + size - base + 7) // 8 * 8
    if at < end and used_end(view, at, end) == at:
        files.spans.append(Span("free space", at, end - at))
    files.parts = tuple(parts)
    if files.count > MAX_PARTS:
        files.notes.append(Fault("volume-unread", f"Of {files.count} files {MAX_PARTS} are read.", start))
    return files


def _file(
    view: View, at: int, size: int, head: int, fields: list[Field], erased: int, depth: int, volume: VolumeReader
) -> Reading:
    """One file, its sections' content as parts."""
    values = {one.name: one.value for one in fields}
    kind, attributes, state = (values[name] for name in ("file_type", "file_attributes", "state"))
    guid = str(values["file_name"])
    assert isinstance(kind, int)
    assert isinstance(attributes, int)
    assert isinstance(state, int)
    if erased:
        state ^= 0xFF
    faults: list[Fault] = []
    raw = view.at(at, head)
    own = byte_sum(raw) - raw[17] - raw[23] & 0xFF
    deleted = bool(state & _DELETED) or not state & _VALID
    if not deleted:
        if own:
            faults.append(Fault("volume-damaged", f"The header of file {guid} does not sum to 0.", at + 16))
        faults += _content_sum(view, at, size, head, attributes, raw[17], guid)
    found = Found()
    if not deleted and size > head:
        if kind == _RAW:
            inside = inner.known_at(view, at + head, size - head)
            found.parts += (inside,) if inside is not None else ()
        else:
            read_sections(found, view, at + head, at + size, depth, volume)
    what = TYPES.get(kind, f"file of type {kind:02X}h")
    title = f"{what} {found.name or guid}" + (f", version {found.version}" if found.version else "")
    parts = found.parts[:MAX_PARTS]
    told = [_told(one, part) for part in parts for one in part.faults]
    noted = [_told(one, part) for part in parts for one in part.notes]
    return Reading(
        format="ffs-file",
        kind="firmware-file",
        title=f"{title}, deleted" if deleted else title,
        offset=at,
        length=size,
        fields=(*fields, *found.as_fields()),
        parts=tuple(parts),
        ids=tuple(dict.fromkeys(chain.from_iterable(one.ids for one in parts))),
        versions=_named(found)[:MAX_STRINGS],
        faults=(*faults, *found.faults, *told)[:MAX_VOLUME_FAULTS],
        notes=(*found.notes, *noted)[:MAX_VOLUME_FAULTS],
        spans=(Span("file header", at, head), *found.spans),
    )


def unpacked(view: View, file: Reading, part: int, volume: VolumeReader) -> bytes | None:
    """The unpacked bytes that a part of `file`, a file of a volume in `view`, was read from; None where it was not.

    The file's sections are read again for it. Raises nothing but the view's own OSError.
    """
    wanted = file.parts[part]
    head = LARGE_HEADER if file.value("large_size") is not None else HEADER
    found = Found()
    with inner.reading(view):
        read_sections(found, view, file.offset + head, file.offset + file.length, 0, volume)
    for made, where in zip(found.parts, found.views, strict=True):
        alike = (made.format, made.title, made.offset, made.length) == (
            wanted.format,
            wanted.title,
            wanted.offset,
            wanted.length,
        )
        if alike and made.inside:
            return where.at(0, where.size)
    return None


def _named(found: Found) -> tuple[VersionClaim, ...]:
    """The claims, those of a version section with the file's name in their source."""
    if not found.name:
        return tuple(found.versions)
    source = f"{OF_SECTION.partition(',')[0]} {found.name[:60]}"
    return tuple(
        replace(one, source=one.source.replace(OF_SECTION.partition(",")[0], source, 1))
        if one.source.startswith(OF_SECTION)
        else one
        for one in found.versions
    )


def _told(one: Fault, part: Reading) -> Fault:
    """What is wrong with a part, as its file tells it: what lies unpacked has no place in the piece."""
    return Fault(one.code, one.text) if part.inside else one


def _content_sum(view: View, at: int, size: int, head: int, attributes: int, said: int, guid: str) -> list[Fault]:
    if not attributes & _SUMMED:
        wrong = said not in _FIXED
    else:
        wrong = bool(byte_sum(view.at(at + head, size - head)) + said & 0xFF)
    text = f"The content of file {guid} does not have the sum that its header says."
    return [Fault("volume-damaged", text, at + 17)] if wrong else []
