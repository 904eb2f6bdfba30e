"""Records of a PLDM package: for which devices it is, and which components each takes.

DMTF DSP0267 1.0 to 1.3, "Firmware device identification area", "Downstream device identification area".
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from catalogue.formats import pldm_values
from catalogue.formats.limits import MAX_DEVICES, MAX_FIELDS, MAX_PARTS, MAX_TEXT
from catalogue.formats.rows import Kind, Row, number, read_rows
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import CardId, Fault, Field, Reading, VersionClaim

if TYPE_CHECKING:
    from catalogue.formats.pldm_package import Package

DEVICES = "DSP0267, Firmware device identification area"
DOWNSTREAM = "DSP0267, Downstream device identification area"
_MANIFEST_REVISION = 4
_STAMP_IN_USE = 1
"""Bit 0 of a downstream record's option flags: a comparison stamp follows the version."""
_KEPT = MAX_FIELDS - 32
"""Descriptors of one record that are kept (a record counts them in one byte)."""


@dataclass(frozen=True, slots=True)
class _Area:
    """What differs between the two areas."""

    source: str
    kind: str
    what: str
    version: str
    meaning: str
    options: str


_FIRMWARE = _Area(
    DEVICES,
    "pldm-device-record",
    "device",
    "component_set_version",
    "Version of all its components together",
    "Bit 0: go on with other components after one has failed",
)
_BEHIND = _Area(
    DOWNSTREAM,
    "pldm-downstream-record",
    "downstream device",
    "least_version",
    "Lowest version of the device before it that can hand the update on",
    "Bit 0: a comparison stamp stands behind the version",
)


def _rows(area: _Area, revision: int) -> tuple[Row, ...]:
    source = area.source
    rows = (
        Row("record_length", 0, 2, Kind.LE, source, "Bytes of this record"),
        Row("descriptor_count", 2, 1, Kind.LE, source, "Descriptors of this record"),
        Row("option_flags", 3, 4, Kind.LE, source, area.options),
        Row("version_string_type", 7, 1, Kind.LE, source, "0 unknown, 1 ASCII, 2 UTF-8, 3 UTF-16, 4 LE, 5 BE"),
        Row("version_string_length", 8, 1, Kind.LE, source, "Bytes of the version string"),
        Row("package_data_length", 9, 2, Kind.LE, source, "Bytes the package hands to the device"),
    )
    if revision < _MANIFEST_REVISION:
        return rows
    return (*rows, Row("manifest_length", 11, 4, Kind.LE, source, "Bytes of the reference manifest"))


def read_devices(package: Package, count: int) -> bool:
    """Add a part a device record; whether all of them lie whole in the header."""
    return _read(package, count, _FIRMWARE)


def read_downstream(package: Package, count: int) -> bool:
    """Add a part a downstream record; whether all of them lie whole in the header."""
    return _read(package, count, _BEHIND)


def _read(package: Package, count: int, area: _Area) -> bool:
    rows = _rows(area, package.revision)
    least = rows[-1].offset + rows[-1].size
    raw = package.raw
    for index in range(count):
        length = int.from_bytes(raw[package.at : package.at + 2], "little")
        end = package.at + length
        if length < least or end > len(raw):
            text = f"The record of {area.what} {index} does not lie whole in the header."
            package.damaged(text, package.at)
            return False
        part = _Record(package, area, rows, index, end).read()
        if len(package.parts) < MAX_PARTS - 1:
            package.parts.append(part)
        elif len(package.parts) == MAX_PARTS - 1:
            package.odd(f"Of its records and components {MAX_PARTS - 1} are shown.", package.at)
        package.at = end
    return True


class _Record:
    """One record while it is read."""

    def __init__(self, package: Package, area: _Area, rows: tuple[Row, ...], index: int, end: int) -> None:
        self.package = package
        self.area = area
        self.index = index
        self.start = package.at
        self.end = end
        # Bounded by the record: what lies behind it is not its own.
        self.raw = package.raw[:end]
        self.found = read_rows(rows, BytesView(self.raw), self.start)
        self.at = self.start + rows[-1].offset + rows[-1].size
        self.fields = list(self.found.values())
        self.wrong = ""
        self.wrong_at = self.start
        self.vendor: int | None = None
        self.device: int | None = None

    def read(self) -> Reading:
        """The record as a part; what it claims is added to the package."""
        version = self._bitmap_and_version()
        self._descriptors()
        self._data("package_data", "package_data_length", "What the package hands to the device, as hex")
        if self.package.revision >= _MANIFEST_REVISION:
            self._data("manifest", "manifest_length", "Reference manifest, as hex")
        if not self.wrong and self.at != self.end:
            self._fails(f"{self.end - self.at} bytes stand behind its last field", self.at)
        faults: tuple[Fault, ...] = ()
        if self.wrong:
            text = f"The record of {self.area.what} {self.index}: {self.wrong}."
            faults = (Fault("pldm-damaged", text, self.wrong_at),)
            self.package.faults += faults
        ids: tuple[CardId, ...] = ()
        if self.vendor is not None and self.device is not None:
            ids = (CardId(self.vendor, self.device),)
            self.package.ids += ids
        shown = f"; {self.vendor:04X}:{self.device:04X}" if ids else ""
        title = f"Record of {self.area.what} {self.index}{shown}"
        length = self.end - self.start
        return Reading(
            "pldm-record", self.area.kind, title, self.start, length, tuple(self.fields), (), ids, version, faults
        )

    def _fails(self, text: str, at: int) -> None:
        if not self.wrong:
            self.wrong, self.wrong_at = text, at

    def _take(self, size: int, what: str) -> bytes | None:
        """The next bytes of the record; None where it ends before."""
        if self.wrong:
            return None
        if self.at + size > self.end:
            self._fails(f"it ends inside {what}", self.at)
            return None
        raw = self.raw[self.at : self.at + size]
        self.at += size
        return raw

    def _bitmap_and_version(self) -> tuple[VersionClaim, ...]:
        source = self.area.source
        bitmap = self._take((self.package.bits + 7) // 8, "its component bitmap")
        if bitmap is None:
            return ()
        meaning = "Components of the package that it takes, counted from 0"
        taken = tuple(8 * at + bit for at, byte in enumerate(bitmap) for bit in range(8) if byte >> bit & 1)
        place = self.at - len(bitmap)
        self.fields.append(Field("applicable_components", taken[:MAX_DEVICES], place, len(bitmap), meaning, source))
        start = self.at
        raw = self._take(number(self.found, "version_string_length"), "its version")
        if raw is None:
            return ()
        shown, wrong = pldm_values.text(raw, number(self.found, "version_string_type"))
        if wrong:
            self.package.odd(f"The record of {self.area.what} {self.index}: its version {wrong}.", start)
        if raw:
            self.fields.append(Field(self.area.version, shown, start, len(raw), self.area.meaning, source))
        if self.area is _BEHIND and number(self.found, "option_flags") & _STAMP_IN_USE:
            stamp = self._take(4, "its comparison stamp")
            if stamp is not None:
                value = int.from_bytes(stamp, "little")
                meaning = "Compared instead of the version"
                self.fields.append(Field("comparison_stamp", value, self.at - 4, 4, meaning, source))
        if not shown or self.area is _BEHIND:
            return ()
        claim = VersionClaim(shown, f"PLDM {self.area.what} {self.index}, component set version", start)
        self.package.versions.append(claim)
        return (claim,)

    def _descriptors(self) -> None:
        names: dict[str, int] = {}
        for _ in range(number(self.found, "descriptor_count")):
            head = self._take(4, "a descriptor")
            if head is None:
                return
            kind, size = int.from_bytes(head[:2], "little"), int.from_bytes(head[2:], "little")
            start = self.at
            raw = self._take(size, "a descriptor")
            if raw is None:
                return
            one = pldm_values.descriptor(kind, raw, start)
            if one.wrong:
                text = f"The record of {self.area.what} {self.index}: its descriptor {kind:04X}h {one.wrong}."
                self.package.odd(text, start)
            name = one.field.name
            names[name] = names.get(name, 0) + 1
            if names[name] > 1:
                name = f"{name}_{names[name]}"
            if len(self.fields) < _KEPT:
                self.fields.append(replace(one.field, name=name))
            if names[one.field.name] == 1 and isinstance(one.field.value, int):
                if kind == pldm_values.PCI_VENDOR:
                    self.vendor = one.field.value
                elif kind == pldm_values.PCI_DEVICE:
                    self.device = one.field.value

    def _data(self, name: str, length: str, meaning: str) -> None:
        size = number(self.found, length)
        start = self.at
        raw = self._take(size, meaning.partition(",")[0].lower())
        if raw:
            value = raw[: MAX_TEXT // 2].hex()
            self.fields.append(Field(name, value, start, len(raw), meaning, self.area.source))
