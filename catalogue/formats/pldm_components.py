"""Components of a PLDM package: what each is, its version, where its bytes lie, and what they are.

DMTF DSP0267 1.0 to 1.3, "Component image information area".
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from catalogue.formats import inner, pldm_values
from catalogue.formats.limits import MAX_PARTS, MAX_TEXT
from catalogue.formats.rows import Kind, Row, number, read_rows
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Fault, Field, Reading, Span, VersionClaim

if TYPE_CHECKING:
    from catalogue.formats.pldm_package import Package

SOURCE = "DSP0267, Component image information area"
_ROWS = (
    Row("classification", 0, 2, Kind.LE, SOURCE, "What sort of component it is (10: firmware)"),
    Row("identifier", 2, 2, Kind.LE, SOURCE, "The maker's own number of the component"),
    Row("comparison_stamp", 4, 4, Kind.LE, SOURCE, "Compared instead of the version where option bit 1 says so"),
    Row("options", 8, 2, Kind.LE, SOURCE, "Bit 0: update whatever is there; bit 1: compare the stamp"),
    Row("activation", 10, 2, Kind.LE, SOURCE, "Bits of how it comes into use: by itself, by reset, by power cycle"),
    Row("location", 12, 4, Kind.LE, SOURCE, "Where its bytes begin, from the package's first byte"),
    Row("size", 16, 4, Kind.LE, SOURCE, "Bytes of the component"),
    Row("version_string_type", 20, 1, Kind.LE, SOURCE, "0 unknown, 1 ASCII, 2 UTF-8, 3 UTF-16, 4 LE, 5 BE"),
    Row("version_string_length", 21, 1, Kind.LE, SOURCE, "Bytes of the version string"),
)
_FIXED = 22
_OPAQUE_REVISION = 3
_KEPT_FAULTS = 50


def read_components(package: Package, count: int) -> bool:
    """Add a part a component, with what its bytes are; whether the header holds all of them."""
    for index in range(count):
        part = _component(package, index)
        if part is None:
            package.damaged(f"The header ends inside component {index} of {count}.", package.at)
            return False
        if len(package.parts) < MAX_PARTS:
            package.parts.append(part)
    if count and len(package.parts) == MAX_PARTS:
        package.odd(f"Of its records and components {MAX_PARTS} are shown.", package.at)
    if package.bits < count:
        text = f"The component bitmap has {package.bits} bits for {count} components."
        package.damaged(text, 32)
    return True


def _component(package: Package, index: int) -> Reading | None:
    raw, start = package.raw, package.at
    if start + _FIXED > len(raw):
        return None
    found = read_rows(_ROWS, BytesView(raw), start)
    length = number(found, "version_string_length")
    at = start + _FIXED + length
    fields = list(found.values())
    if at > len(raw):
        return None
    version, wrong = pldm_values.text(raw[at - length : at], number(found, "version_string_type"))
    if wrong:
        package.odd(f"Component {index}: its version {wrong}.", at - length)
    if length:
        meaning = "The component's version as its maker writes it"
        fields.append(Field("version", version, at - length, length, meaning, SOURCE))
    if package.revision >= _OPAQUE_REVISION:
        opaque = int.from_bytes(raw[at : at + 4], "little")
        if at + 4 + opaque > len(raw):
            return None
        fields.append(Field("opaque_data_length", opaque, at, 4, "Bytes the maker keeps with it", SOURCE))
        at += 4
        if opaque:
            value = raw[at : at + min(opaque, MAX_TEXT // 2)].hex()
            fields.append(Field("opaque_data", value, at, opaque, "What the maker keeps with it, as hex", SOURCE))
        at += opaque
    package.at = at
    return _with_bytes(package, index, start, fields, version)


def _told(index: int, inside: Reading) -> list[Fault]:
    """The faults of what a component holds, as the package tells them."""
    return [Fault(one.code, f"In component {index}: {one.text}", one.offset) for one in inside.faults[:4]]


def _with_bytes(package: Package, index: int, start: int, fields: list[Field], version: str) -> Reading:
    """The component's part, which covers the component's own bytes."""
    values = {one.name: one.value for one in fields}
    location, size, kind = (values[name] for name in ("location", "size", "classification"))
    assert isinstance(location, int)
    assert isinstance(size, int)
    assert isinstance(kind, int)
    view = package.view
    faults: tuple[Fault, ...] = ()
    if location < len(package.raw) and size:
        faults = (Fault("pldm-damaged", f"Component {index} begins inside the header.", start + 12),)
    elif location + size > view.size:
        faults = (Fault("cut-short", f"The file ends before component {index} does.", start + 16),)
    there = max(0, min(size, view.size - location))
    what = pldm_values.CLASSIFICATIONS.get(kind, f"classification {kind}")
    if there and not faults and len(package.spans) < MAX_PARTS:
        package.spans.append(Span(f"component {index}", location, there))
    inside = inner.known_at(view, location, there) if there and not faults else None
    versions: tuple[VersionClaim, ...] = ()
    if version:
        source = f"PLDM component {index}, version"
        versions = (VersionClaim(version, source, next(one.offset for one in fields if one.name == "version")),)
        package.versions += versions
    if len(package.faults) < _KEPT_FAULTS:
        package.faults += faults
        if inside is not None:
            package.faults += _told(index, inside)
    title = f"Component {index}, {what}" + (f", version {version[:40]}" if version else "")
    title += f": {inside.title}" if inside is not None else ""
    return Reading(
        format="pldm-component",
        kind="pldm-component",
        title=title,
        offset=min(location, view.size),
        length=there,
        fields=tuple(fields),
        parts=(inside,) if inside is not None else (),
        ids=inside.ids if inside is not None else (),
        versions=versions,
        faults=faults,
    )
