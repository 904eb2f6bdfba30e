"""The PCI Data Structure of an option ROM image: IDs, class, length, code type.

PCI Firmware Specification 3.x, section 5.1.2 (earlier: PCI Local Bus 2.2, section 6.3.1.2).
"""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.formats.limits import MAX_DEVICES
from catalogue.formats.rows import Found, Kind, Row, number, read_rows
from catalogue.formats.view import View
from catalogue.shapes.reading import CardId, Fault, Field

SOURCE = "PCI Firmware Specification 5.1.2"
SIGNATURE = b"PCIR"
LEAST = 0x18
"""Bytes of the structure in its revision 0."""
LONG = 0x1C
"""Structure length from which the fields at 16h to 1Bh exist (PCI Firmware Specification 3.0)."""
LIST_REVISION = 3
"""The structure revision in which 08h points to a device list; in revision 0 it pointed to vital product data."""
LAST_IMAGE = 0x80
BLOCK = 512

_HEAD = (
    Row("vendor_id", 0x04, 2, Kind.LE, SOURCE, "Vendor of the card this image is for"),
    Row("device_id", 0x06, 2, Kind.LE, SOURCE, "Device of the card this image is for"),
    Row("list_pointer", 0x08, 2, Kind.LE, SOURCE, "Device list (revision 3) or vital product data (revision 0)"),
    Row("structure_length", 0x0A, 2, Kind.LE, SOURCE, "Bytes of the PCI Data Structure"),
    Row("structure_revision", 0x0C, 1, Kind.LE, SOURCE, "0 for PCI 2.x, 3 for PCI Firmware 3.0"),
    Row("class_code", 0x0D, 3, Kind.LE, SOURCE, "Base class, sub-class, programming interface"),
    Row("image_length", 0x10, 2, Kind.LE, SOURCE, "Bytes of this image", BLOCK),
    Row("code_revision", 0x12, 2, Kind.LE, SOURCE, "The maker's own count of this code; not its version"),
    Row("code_type", 0x14, 1, Kind.LE, SOURCE, "0 legacy x86, 1 Open Firmware, 2 PA-RISC, 3 EFI"),
    Row("indicator", 0x15, 1, Kind.LE, SOURCE, "Bit 7: the last image of the ROM"),
)
_MORE = (
    Row("runtime_length", 0x16, 2, Kind.LE, SOURCE, "Most bytes this image keeps at run time", BLOCK),
    Row("configuration_header", 0x18, 2, Kind.LE, SOURCE, "Configuration utility code header"),
    Row("management_entry", 0x1A, 2, Kind.LE, SOURCE, "DMTF CLP entry point"),
)


@dataclass(frozen=True, slots=True)
class Structure:
    """One PCI Data Structure at `offset`: its fields, its device list, and what is odd about it.

    `whole` is False where the file ends inside the 18h bytes every revision has.
    """

    offset: int
    found: Found
    devices: tuple[int, ...]
    list_field: Field
    notes: tuple[Fault, ...]
    whole: bool

    @property
    def code_type(self) -> int:
        """PCIR+14h, 0 where absent."""
        return number(self.found, "code_type")

    @property
    def last(self) -> bool:
        """Whether PCIR+15h marks the last image."""
        return bool(number(self.found, "indicator") & LAST_IMAGE)

    def before_code(self) -> tuple[Field, ...]:
        """The fields that stand before the code type's own in the command line's contract."""
        found = self.found
        names = ("class_code", "structure_revision", "code_revision")
        ids = (found["code_type"], found["vendor_id"], found["device_id"])
        return (*ids, self.list_field, *(found[name] for name in names))

    def after_code(self) -> tuple[Field, ...]:
        """The fields that stand after them: the last-image bit, and what the contract does not name."""
        bit = self.found["indicator"]
        first = {"code_type", "vendor_id", "device_id", "class_code", "structure_revision", "code_revision"}
        rest = (one for name, one in self.found.items() if name not in first)
        return (Field("last_image", self.last, bit.offset, 1, bit.meaning, bit.source), *rest)

    @property
    def card(self) -> CardId:
        """The IDs this structure names."""
        return CardId(
            number(self.found, "vendor_id"),
            number(self.found, "device_id"),
            self.devices,
            number(self.found, "class_code"),
        )


def is_at(view: View, offset: int) -> bool:
    """Whether the signature stands at `offset`."""
    return view.at(offset, 4) == SIGNATURE


def read_structure(view: View, offset: int, image_end: int) -> Structure:
    """The structure whose signature stands at `offset`; its device list is read up to `image_end`."""
    found = read_rows(_HEAD, view, offset)
    notes: list[Fault] = []
    length = number(found, "structure_length")
    whole = offset + LEAST <= view.size
    if whole and length < LEAST:
        notes.append(
            Fault(
                "rom-odd",
                f"The PCI Data Structure calls itself {length} bytes long; it has at least 24.",
                offset + 0x0A,
            )
        )
    if length >= LONG:
        found.update(read_rows(_MORE, view, offset))
    revision = number(found, "structure_revision")
    if revision not in (0, LIST_REVISION):
        notes.append(Fault("rom-odd", f"Structure revision {revision} is neither 0 nor 3.", offset + 0x0C))
    devices, list_field = _device_list(view, offset, image_end, found, notes)
    return Structure(offset, found, devices, list_field, tuple(notes), whole)


def find_lost(data: bytes, base: int) -> int | None:
    """Where in `data`, which starts at `base`, a likely structure stands that no pointer leads to; None if nowhere.

    Code holds the four letters too, so the structure must also make sense and stand on a 4-byte boundary.
    """
    at = data.find(SIGNATURE)
    while at >= 0:
        head = data[at : at + LEAST]
        if (
            at % 4 == 0
            and len(head) == LEAST
            and LEAST <= int.from_bytes(head[0x0A:0x0C], "little") < 0x100
            and head[0x0C] in (0, LIST_REVISION)
            and head[0x14] <= 3
            and head[0x10:0x12] != b"\0\0"
        ):
            return base + at
        at = data.find(SIGNATURE, at + 1)
    return None


def _device_list(
    view: View, offset: int, image_end: int, found: Found, notes: list[Fault]
) -> tuple[tuple[int, ...], Field]:
    """The further device IDs; the pointer counts from the start of this structure."""
    pointer = number(found, "list_pointer")
    meaning = "Further devices this image is for"
    none = Field("device_list", (), None, 0, meaning, SOURCE)
    if number(found, "structure_revision") != LIST_REVISION or pointer == 0:
        return (), none
    start = offset + pointer
    if pointer < LEAST or start + 2 > image_end:
        notes.append(
            Fault("rom-odd", "The device list pointer leads out of the image or into the structure.", offset + 8)
        )
        return (), none
    raw = view.at(start, min((MAX_DEVICES + 1) * 2, image_end - start))
    devices: list[int] = []
    for at in range(0, len(raw) - 1, 2):
        device = int.from_bytes(raw[at : at + 2], "little")
        if device == 0:
            return tuple(devices), Field("device_list", tuple(devices), start, at + 2, meaning, SOURCE)
        devices.append(device)
    kept = tuple(devices[:MAX_DEVICES])
    notes.append(Fault("rom-odd", f"No 0000h closes the device list within {len(kept)} entries.", start))
    return kept, Field("device_list", kept, start, len(kept) * 2, meaning, SOURCE)
