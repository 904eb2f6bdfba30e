"""Values in PLDM firmware update packages: strings by their type, dates, descriptors.

DMTF DSP0267 1.3.0, "Package header information" and "Descriptor definition"; dates are DSP0240's timestamp104. Numbers
of classifications and bits from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.formats.limits import MAX_TEXT
from catalogue.formats.rows import printable
from catalogue.shapes.reading import Field

DESCRIPTORS = "DSP0267, Descriptor definition"
_ENCODINGS = {1: "ascii", 2: "utf-8", 3: "utf-16", 4: "utf-16-le", 5: "utf-16-be"}
"""DSP0267, version string types; 0 is a string of unknown type."""
PCI_VENDOR, PCI_DEVICE = 0x0000, 0x0100
_MAKERS_OWN = 0xFFFF
_NAMES = {
    PCI_VENDOR: ("pci_vendor", 2, "PCI vendor"),
    0x0001: ("iana_enterprise", 4, "IANA enterprise number"),
    0x0002: ("uuid", 16, "UUID"),
    0x0003: ("pnp_vendor", 3, "Plug and Play vendor"),
    0x0004: ("acpi_vendor", 4, "ACPI vendor"),
    0x0005: ("ieee_company", 3, "Company ID that IEEE assigned"),
    0x0006: ("scsi_vendor", 8, "SCSI vendor"),
    PCI_DEVICE: ("pci_device", 2, "PCI device"),
    0x0101: ("pci_subsystem_vendor", 2, "PCI subsystem vendor"),
    0x0102: ("pci_subsystem", 2, "PCI subsystem"),
    0x0103: ("pci_revision", 1, "PCI revision"),
    0x0104: ("pnp_product", 4, "Plug and Play product"),
    0x0105: ("acpi_product", 4, "ACPI product"),
    0x0106: ("ascii_model_long", 40, "Model number, long"),
    0x0107: ("ascii_model_short", 10, "Model number, short"),
    0x0108: ("scsi_product", 16, "SCSI product"),
    0x0109: ("ubm_controller_device", 4, "UBM controller device code"),
    0x010A: ("ieee_eui64", 8, "EUI-64"),
    0x010B: ("pci_revision_range", 2, "PCI revisions, lowest and highest"),
}
"""Type, the bytes its value has, and what it is. Sizes from 0104h on from memory: another size is no fault."""
_NUMBERS = frozenset({PCI_VENDOR, 0x0001, PCI_DEVICE, 0x0101, 0x0102, 0x0103})
_TEXTS = frozenset({0x0003, 0x0004, 0x0006, 0x0105, 0x0106, 0x0107, 0x0108})
CLASSIFICATIONS = {
    1: "other",
    2: "driver",
    3: "configuration software",
    4: "application software",
    5: "instrumentation",
    6: "firmware or BIOS",
    7: "diagnostic software",
    8: "operating system",
    9: "middleware",
    10: "firmware",
    11: "BIOS or FCode",
    12: "service pack",
    13: "software bundle",
}


@dataclass(frozen=True, slots=True)
class Descriptor:
    """One descriptor: its type, its field (without a unique name yet), and what is wrong with it, "" if nothing."""

    type: int
    field: Field
    wrong: str


def text(raw: bytes, kind: int) -> tuple[str, str]:
    """The string of type `kind`, closing zeros left out, and what is wrong with it ("" if nothing)."""
    encoding = _ENCODINGS.get(kind)
    wrong = ""
    if encoding is not None:
        try:
            shown = raw.decode(encoding)
        except UnicodeDecodeError:
            wrong = f"is no {encoding} text"
            shown = printable(raw)
    else:
        shown = printable(raw.rstrip(b"\0"))
        wrong = f"has a string of type {kind}, which is none" if kind else ""
    return shown.rstrip("\0")[:MAX_TEXT], wrong


def date(raw: bytes) -> str:
    """A timestamp104 (13 bytes) as ISO 8601 writes it; as hex where it is no date; "" where it is all zero."""
    if not any(raw[:12]):
        return ""
    offset = int.from_bytes(raw[0:2], "little", signed=True)
    micro = int.from_bytes(raw[2:5], "little")
    second, minute, hour, day, month = raw[5:10]
    year = int.from_bytes(raw[10:12], "little")
    if not (1 <= month <= 12 and 1 <= day <= 31 and hour < 24 and minute < 60 and second <= 60 and micro < 1_000_000):
        return raw.hex()
    sign = "-" if offset < 0 else "+"
    zone = f"{sign}{abs(offset) // 60:02}:{abs(offset) % 60:02}"
    part = f".{micro:06}" if micro else ""
    return f"{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}{part}{zone}"


def guid(raw: bytes) -> str:
    """A UUID whose bytes stand in printed order."""
    digits = raw.hex().upper()
    return "-".join((digits[:8], digits[8:12], digits[12:16], digits[16:20], digits[20:]))


def descriptor(kind: int, raw: bytes, at: int) -> Descriptor:
    """The descriptor of type `kind` whose value `raw` stands at `at`."""
    if kind == _MAKERS_OWN:
        return _makers_own(raw, at)
    name, size, meaning = _NAMES.get(kind, (f"descriptor_{kind:04X}", len(raw), f"Descriptor of type {kind:04X}h"))
    wrong = f"has {len(raw)} bytes where {size} are due" if len(raw) != size and kind < PCI_DEVICE + 4 else ""
    value: int | str
    if kind in _NUMBERS and not wrong:
        value = int.from_bytes(raw, "little")
    elif kind in _TEXTS:
        value = printable(raw.rstrip(b"\0 "))
    elif kind == 0x0002 and not wrong:
        value = guid(raw)
    else:
        value = raw[: MAX_TEXT // 2].hex()
    return Descriptor(kind, Field(name, value, at, len(raw), meaning, DESCRIPTORS), wrong)


def _makers_own(raw: bytes, at: int) -> Descriptor:
    """Type FFFFh: title type, title length, title, data."""
    meaning = "Descriptor of the maker's own: its title, and its data as hex"
    wrong = "" if len(raw) >= 2 and len(raw) >= 2 + raw[1] else "ends inside its title"
    title, bad = text(raw[2 : 2 + raw[1]], raw[0]) if len(raw) >= 2 else ("", "")
    data = raw[2 + raw[1] :] if not wrong else b""
    value = f"{title}: {data.hex()}"[:MAX_TEXT]
    return Descriptor(_MAKERS_OWN, Field("makers_own", value, at, len(raw), meaning, DESCRIPTORS), wrong or bad)
