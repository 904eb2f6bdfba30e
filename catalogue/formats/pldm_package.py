"""PLDM firmware update packages: header, records of devices, components, both CRCs.

DMTF DSP0267 1.0 to 1.3 (package format revisions 1 to 4), "Firmware update package".
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, field

from catalogue.formats import inner, pldm_components, pldm_records, pldm_values
from catalogue.formats.limits import MAX_PARTS, MAX_STRINGS
from catalogue.formats.overlay import is_padding
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.rows import Kind, Row, number, read_rows
from catalogue.formats.view import BytesView, View
from catalogue.shapes.reading import CardId, Fault, Field, Reading, Span, VersionClaim

SOURCE = "DSP0267, Package header information"
IDENTIFIERS = {
    bytes.fromhex("F018878CCB7D49439800A02F059ACA02"): 1,
    bytes.fromhex("1244D2648D7D4718A030FC8A56587D5A"): 2,
    bytes.fromhex("3119CE2FE80A4A99AF6D46F8B121F6BF"): 3,
    bytes.fromhex("7B291C996DB64208801B02026E463C78"): 4,
}
"""PackageHeaderIdentifier, and the format revision that goes with it."""
_ROWS = (
    Row("format_revision", 16, 1, Kind.LE, SOURCE, "Which layout the header has, 1 to 4"),
    Row("header_size", 17, 2, Kind.LE, SOURCE, "Bytes of the header, its CRCs included"),
)
_MORE = (
    Row("component_bitmap_bits", 32, 2, Kind.LE, SOURCE, "Bits of each record's component bitmap"),
    Row("version_string_type", 34, 1, Kind.LE, SOURCE, "0 unknown, 1 ASCII, 2 UTF-8, 3 UTF-16, 4 UTF-16LE, 5 UTF-16BE"),
    Row("version_string_length", 35, 1, Kind.LE, SOURCE, "Bytes of the package's version string"),
)
_DATE_AT, _DATE_BYTES = 19, 13
_FIXED = 36
_LEAST = _FIXED + 1 + 2 + 4
_CRC = 4
_CHUNK = 1 << 20


@dataclass(slots=True)
class Package:
    """A package while it is read. `raw` is as much of its header as there is, `at` where reading stands in it."""

    view: View
    raw: bytes
    revision: int
    at: int = 0
    bits: int = 0
    fields: list[Field] = field(default_factory=list)
    parts: list[Reading] = field(default_factory=list)
    ids: list[CardId] = field(default_factory=list)
    versions: list[VersionClaim] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[Fault] = field(default_factory=list)
    spans: list[Span] = field(default_factory=list)

    def damaged(self, text: str, offset: int) -> None:
        """Note a fault: no maker publishes such a package."""
        self.faults.append(Fault("pldm-damaged", text, min(offset, self.view.size)))

    def odd(self, text: str, offset: int) -> None:
        """Note an oddity."""
        self.notes.append(Fault("pldm-odd", text, min(offset, self.view.size)))

    def count(self, name: str, size: int, meaning: str) -> int | None:
        """The count at `at`, which moves on; None where the header ends before it."""
        raw = self.raw[self.at : self.at + size]
        if len(raw) < size:
            return None
        value = int.from_bytes(raw, "little")
        self.fields.append(Field(name, value, self.at, size, meaning, SOURCE))
        self.at += size
        return value


def looks_like(view: View) -> Looks:
    """SURE of a known identifier."""
    return Looks.SURE if view.at(0, 16) in IDENTIFIERS else Looks.NO


def read(view: View) -> Reading | None:
    """The package that fills `view`; None where none begins there."""
    identifier = view.at(0, 16)
    if identifier not in IDENTIFIERS:
        return None
    found = read_rows(_ROWS, view, 0)
    revision, size = number(found, "format_revision"), number(found, "header_size")
    package = Package(view, view.at(0, size), revision)
    meaning = "Says that this is a package, and of which revision"
    package.fields += (
        Field("identifier", pldm_values.guid(identifier), 0, 16, meaning, SOURCE),
        *found.values(),
    )
    with inner.reading(view):
        _read(package, IDENTIFIERS[identifier], size)
    cards = tuple(dict.fromkeys(package.ids))
    version = package.versions[0].value if package.versions and package.versions[0].source == _VERSION else ""
    shown = ", ".join(f"{one.vendor:04X}:{one.device:04X}" for one in cards[:4])
    title = f"PLDM firmware package, format revision {revision}"
    title += f", version {version[:40]}" if version else ""
    return Reading(
        format=READER.name,
        kind="pldm-package",
        title=f"{title}; {shown}" if shown else title,
        length=view.size,
        fields=tuple(package.fields),
        parts=tuple(package.parts),
        ids=cards[:MAX_PARTS],
        versions=tuple(package.versions[:MAX_STRINGS]),
        faults=tuple(package.faults),
        notes=tuple(package.notes),
        spans=tuple(package.spans),
    )


_VERSION = "PLDM package version"


def _read(package: Package, meant: int, size: int) -> None:
    view, raw = package.view, package.raw
    if len(raw) < size or view.size < _LEAST:
        text = "The file ends inside the header of the package."
        package.faults.append(Fault("cut-short", text, view.size))
    if package.revision not in IDENTIFIERS.values():
        package.damaged(f"Format revision {package.revision} is none of 1 to 4; its layout is not known.", 16)
        return
    if package.revision != meant:
        text = f"The identifier is that of format revision {meant}, the revision says {package.revision}."
        package.damaged(text, 16)
    if size < _LEAST:
        package.damaged(f"The header calls itself {size} bytes long; it has at least {_LEAST}.", 17)
    package.spans.append(Span("header", 0, len(raw)))
    if not _head(package):
        return
    ends = _areas(package)
    _sums(package, size, ends)
    _behind(package, size)


def _head(package: Package) -> bool:
    """The fields up to the version string; whether the header holds them."""
    raw = package.raw
    date = raw[_DATE_AT : _DATE_AT + _DATE_BYTES]
    if len(date) == _DATE_BYTES:
        meaning = "When the package was released (timestamp104)"
        package.fields.append(Field("release_date", pldm_values.date(date), _DATE_AT, _DATE_BYTES, meaning, SOURCE))
    found = read_rows(_MORE, BytesView(raw), 0)
    package.fields += found.values()
    package.bits = number(found, "component_bitmap_bits")
    if package.bits % 8:
        package.damaged(f"The component bitmap has {package.bits} bits, which is no multiple of 8.", 32)
    length = number(found, "version_string_length")
    if len(raw) < _FIXED + length:
        return False
    version, wrong = pldm_values.text(raw[_FIXED : _FIXED + length], number(found, "version_string_type"))
    if wrong:
        package.odd(f"The package's version {wrong}.", _FIXED)
    if length:
        meaning = "The package's version as its maker writes it"
        package.fields.append(Field("package_version", version, _FIXED, length, meaning, SOURCE))
    if version:
        package.versions.append(VersionClaim(version, _VERSION, _FIXED))
    package.at = _FIXED + length
    return True


def _areas(package: Package) -> bool:
    """The three areas behind the version; whether all of them were whole, so that `at` stands at the CRC."""
    devices = package.count("device_record_count", 1, "Records of devices the package is for")
    if devices is None or not pldm_records.read_devices(package, devices):
        return False
    if package.revision >= 2:
        downstream = package.count("downstream_record_count", 1, "Records of devices behind those devices")
        if downstream is None or not pldm_records.read_downstream(package, downstream):
            return False
    components = package.count("component_count", 2, "Components the package brings")
    return components is not None and pldm_components.read_components(package, components)


def _sums(package: Package, size: int, ends: bool) -> None:
    raw, revision = package.raw, package.revision
    sums = 2 if revision >= 4 else 1
    if len(raw) < size or size < _LEAST:
        return
    if ends and package.at != size - _CRC * sums:
        text = f"The header's records end at {package.at}; by its size its sum stands at {size - _CRC * sums}."
        package.damaged(text, package.at)
    at = size - _CRC * sums
    _sum(package, "header", at, zlib.crc32(raw[:at]))
    if revision >= 4:
        _sum(package, "payload", size - _CRC, _crc(package.view, size))


def _sum(package: Package, name: str, at: int, have: int) -> None:
    said = int.from_bytes(package.raw[at : at + _CRC], "little")
    over = "the header before it" if name == "header" else "all bytes behind the header"
    package.fields += (
        Field(f"{name}_crc", said, at, _CRC, f"CRC-32 over {over}", SOURCE),
        Field(f"{name}_crc_ok", said == have, None, 0, f"Whether it is the CRC-32 of {over}", SOURCE),
    )
    if said != have:
        package.damaged(f"The {name}'s CRC-32 is {have:08X}h; the package says {said:08X}h.", at)


def _crc(view: View, start: int) -> int:
    value = 0
    for at in range(start, view.size, _CHUNK):
        value = zlib.crc32(view.at(at, _CHUNK), value)
    return value


def _behind(package: Package, size: int) -> None:
    """What no component covers."""
    at = min(size, package.view.size)
    stretches: list[tuple[int, int]] = []
    for one in sorted(package.spans, key=lambda span: span.offset):
        if one.offset > at:
            stretches.append((at, one.offset))
        at = max(at, one.offset + one.length)
    stretches.append((at, package.view.size))
    for start, end in stretches[:MAX_PARTS]:
        if end <= start:
            continue
        padding = is_padding(package.view, start, end)
        package.spans.append(Span("padding" if padding else "not in any component", start, end - start))
        if not padding:
            last = end == package.view.size
            code, where = ("data-after-end", "behind the package") if last else ("pldm-odd", "between its components")
            package.notes.append(Fault(code, f"Bytes lie {where}; no component explains them.", start))


READER = Reader(
    name="pldm-package",
    first=tuple(one[:4] for one in IDENTIFIERS),
    kinds=("pldm-package",),
    looks_like=looks_like,
    read=read,
    version=1,
    source="DMTF DSP0267 1.0 to 1.3",
    depth="format revisions 1 to 4: every field, device and downstream records with bitmaps and descriptors, "
    "components (each read by itself), both CRCs",
)
