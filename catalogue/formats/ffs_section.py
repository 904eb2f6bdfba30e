"""Sections of a file in a UEFI firmware volume: programs, names, versions, raw bytes, and sections packed into one.

PI Specification, volume 3, 2.2.4 and 3.2.4 (EFI_COMMON_SECTION_HEADER and the section types).

What was unpacked stands in parts with `inside="unpacked"`, whose offsets count in the unpacked bytes of the section.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from catalogue.formats import inner, pe, te_image
from catalogue.formats.limits import MAX_DEVICES, MAX_PARTS, MAX_SECTION_DEPTH, MAX_STRINGS, MAX_TEXT, MAX_VOLUME_DEPTH
from catalogue.formats.section_packing import COMPRESSION, GUID_DEFINED, unpack
from catalogue.formats.shifted import shifted
from catalogue.formats.view import BytesView, PartView, View
from catalogue.formats.volume_header import is_sound
from catalogue.shapes.reading import Fault, Field, Reading, Span, VersionClaim

SOURCE = "PI Specification, volume 3, 3.2.4"
OF_SECTION = "firmware file, version section"
"""Where a version comes from; the file's name is put into it once it is known."""
_DISPOSABLE, _PE32, _TE, _VERSION, _NAME, _COMPAT16, _VOLUME = 0x03, 0x10, 0x12, 0x14, 0x15, 0x16, 0x17
_FREEFORM, _RAW = 0x18, 0x19
TYPES = {
    COMPRESSION: "compressed",
    GUID_DEFINED: "guid-defined",
    _DISPOSABLE: "disposable",
    _PE32: "PE32",
    0x11: "PIC",
    _TE: "TE",
    0x13: "DXE dependencies",
    _VERSION: "version",
    _NAME: "name",
    _COMPAT16: "16-bit code",
    _VOLUME: "volume",
    _FREEFORM: "free form",
    _RAW: "raw",
    0x1B: "PEI dependencies",
    0x1C: "management mode dependencies",
}
_HEADER, _LARGE_HEADER = 4, 8
_LARGE = 0xFF_FFFF


@dataclass(slots=True)
class Found:
    """What the sections of one file hold. `names` are the sections' own, in order, those unpacked too.

    `views`: for each part the bytes that its offsets count in. `spans`: the sections that stand in the file itself.
    """

    parts: list[Reading] = field(default_factory=list)
    views: list[View] = field(default_factory=list)
    spans: list[Span] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    versions: list[VersionClaim] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[Fault] = field(default_factory=list)
    name: str = ""
    name_at: tuple[int | None, int] = (None, 0)
    version: str = ""
    version_at: tuple[int | None, int] = (None, 0)
    build: int | None = None
    count: int = 0

    def as_fields(self) -> tuple[Field, ...]:
        """The file's fields that come from its sections."""
        said = [Field("sections", tuple(self.names[:MAX_DEVICES]), None, 0, "Its sections, unpacked ones too", SOURCE)]
        if self.name:
            said.append(Field("name", self.name, *self.name_at, "Name for people (section 15h)", SOURCE))
        if self.version:
            said.append(Field("version", self.version, *self.version_at, "Version (section 14h)", SOURCE))
        if self.build is not None:
            said.append(Field("build_number", self.build, self.version_at[0] and self.version_at[0] - 2, 2, "", SOURCE))
        return tuple(said)


@dataclass(frozen=True, slots=True)
class _Where:
    """Where sections lie: in which view, at which depth, and at which offset of the piece a fault is told."""

    view: View
    depth: int
    level: int = 0
    told_at: int | None = None

    def at(self, offset: int) -> int:
        """The offset of the piece for something at `offset`."""
        return offset if self.told_at is None else self.told_at

    def place(self, offset: int) -> int | None:
        """The offset for a value, None where it stands nowhere in the piece."""
        return offset if self.told_at is None else None


VolumeReader = Callable[[View, int, int], Reading]


def read_sections(found: Found, view: View, start: int, end: int, depth: int, volume: VolumeReader) -> None:
    """Add what the sections in [start, end) hold to `found`."""
    _walk(found, _Where(view, depth), start, end, volume)


def _walk(found: Found, where: _Where, start: int, end: int, volume: VolumeReader) -> None:
    view = where.view
    at = start
    while at + _HEADER <= end:
        raw = view.at(at, _LARGE_HEADER)
        size, head = int.from_bytes(raw[:3], "little"), _HEADER
        if size == _LARGE and len(raw) == _LARGE_HEADER:
            size, head = int.from_bytes(raw[4:], "little"), _LARGE_HEADER
        if not head <= size <= end - at:
            if where.view.at(at, end - at).strip(b"\0\xff"):
                text = "A section's size does not fit its file; what follows in it is not read."
                found.faults.append(Fault("volume-damaged", text, where.at(at)))
            return
        found.count += 1
        if found.count > MAX_PARTS:
            found.notes.append(Fault("volume-unread", f"Of its sections {MAX_PARTS} are read.", where.at(at)))
            return
        kind = raw[3]
        name = TYPES.get(kind, f"type {kind:02X}h")
        found.names.append(name)
        _section(found, where, kind, at, at + head, at + size, volume)
        if where.told_at is None and not where.level:
            found.spans.append(Span(f"{name} section", at, size))
        at = start + (at + size - start + 3) // 4 * 4


def _section(found: Found, where: _Where, kind: int, start: int, at: int, end: int, volume: VolumeReader) -> None:
    """One section that begins at `start`, its content in [at, end)."""
    view = where.view
    if kind in (_PE32, _TE):
        part = PartView(view, at, end - at)
        program = (pe.read_driver(part) if kind == _PE32 else te_image.read(part)) if inner.allowed(end - at) else None
        _add(found, where, None if program is None else shifted(program, at))
    elif kind == _NAME and not found.name:
        found.name, found.name_at = _text(view, at, end), (where.place(at), end - at)
    elif kind == _VERSION and not found.version and end - at >= 2:
        found.build = int.from_bytes(view.at(at, 2), "little")
        found.version, found.version_at = _text(view, at + 2, end), (where.place(at + 2), end - at - 2)
        if found.version:
            source = OF_SECTION + ("" if where.told_at is None else " that was unpacked")
            found.versions.append(VersionClaim(found.version, source, where.place(at + 2)))
    elif kind == _VOLUME:
        if where.depth >= MAX_VOLUME_DEPTH or not is_sound(view, at):
            found.notes.append(Fault("volume-unread", "A volume inside was not read.", where.at(at)))
        elif inner.allowed(end - at):
            _add(found, where, volume(PartView(view, 0, end), at, where.depth + 1))
    elif kind in (_RAW, _FREEFORM, _COMPAT16):
        skip = 16 if kind == _FREEFORM else 0
        _add(found, where, inner.known_at(view, at + skip, end - at - skip))
    elif kind == _DISPOSABLE:
        _deeper(found, replace(where, level=where.level + 1), at, end, volume)
    elif kind in (COMPRESSION, GUID_DEFINED):
        _packed(found, where, kind, start, at, end, volume)


def _packed(found: Found, where: _Where, kind: int, start: int, at: int, end: int, volume: VolumeReader) -> None:
    packed = unpack(where.view, kind, start, at, end)
    found.names[-1] = packed.name
    if packed.why:
        fault = Fault("volume-damaged" if packed.damaged else "volume-unread", packed.why, where.at(start))
        (found.faults if packed.damaged else found.notes).append(fault)
    if packed.start is not None:
        _deeper(found, replace(where, level=where.level + 1), packed.start, end, volume)
    elif packed.data is not None:
        there = _Where(BytesView(packed.data), where.depth, where.level + 1, where.at(start))
        _deeper(found, there, 0, len(packed.data), volume)


def _deeper(found: Found, where: _Where, start: int, end: int, volume: VolumeReader) -> None:
    if where.level > MAX_SECTION_DEPTH:
        found.notes.append(Fault("volume-unread", "Sections inside sections are not read deeper.", where.at(start)))
    else:
        _walk(found, where, start, end, volume)


def _add(found: Found, where: _Where, part: Reading | None) -> None:
    if part is None or len(found.parts) >= MAX_PARTS:
        return
    unpacked = where.told_at is not None
    found.parts.append(inner.inside(part) if unpacked else part)
    found.views.append(where.view)
    if len(found.versions) < MAX_STRINGS:
        found.versions += (
            replace(one, source=f"{one.source}, unpacked", offset=None) if unpacked and not _told(one) else one
            for one in part.versions
        )


def _told(claim: VersionClaim) -> bool:
    return claim.offset is None


def _text(view: View, at: int, end: int) -> str:
    """The UTF-16 text that fills [at, end), up to its closing zero."""
    raw = view.at(at, min(end - at, 2 * MAX_TEXT))
    return raw.decode("utf-16-le", "replace").partition("\0")[0][:MAX_TEXT]
