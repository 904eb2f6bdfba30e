"""The EFI side of an option ROM image (code type 3): its header, and the driver behind it.

UEFI Specification 2.x, section 14.4.2 (PCI option ROMs), EFI PCI Expansion ROM header.
"""

from __future__ import annotations

from dataclasses import replace

from catalogue.formats import pe
from catalogue.formats.image_draft import Draft
from catalogue.formats.pci_data_structure import BLOCK
from catalogue.formats.rows import Kind, Row, number, read_rows
from catalogue.formats.shifted import shifted
from catalogue.formats.view import PartView
from catalogue.shapes.reading import Fault

SOURCE = "UEFI Specification 14.4.2"
SIGNATURE = b"\xf1\x0e\x00\x00"
"""0EF1h, four bytes, at 04h."""
HEADER = 0x1A
_ROWS = (
    Row("initialisation_size", 0x02, 2, Kind.LE, SOURCE, "Bytes of this image that are used, header included", BLOCK),
    Row("efi_signature", 0x04, 4, Kind.LE, SOURCE, "0EF1h"),
    Row("efi_subsystem", 0x08, 2, Kind.LE, SOURCE, "11 boot-service driver, 12 run-time driver, 10 application"),
    Row("efi_machine", 0x0A, 2, Kind.LE, SOURCE, "Machine the driver is for"),
    Row("efi_compression", 0x0C, 2, Kind.LE, SOURCE, "0 none, 1 UEFI compression"),
    Row("efi_image_offset", 0x16, 2, Kind.LE, SOURCE, "The driver, from the image's start"),
)


def read_efi(draft: Draft) -> None:
    """Add the EFI header, and the driver unless the file is cut before its end.

    An initialisation size of 0 or above the image length, an unknown compression and bytes that are no driver are
    faults, as the reference firmware refuses them. A compressed driver is left unread, which is none.
    """
    view, start = draft.view, draft.start
    found = read_rows(_ROWS, view, start)
    used = draft.used = number(found, "initialisation_size")
    offset = number(found, "efi_image_offset")
    compression = number(found, "efi_compression")
    machine = number(found, "efi_machine")
    cpu = pe.MACHINES.get(machine, f"machine {machine:04X}h")
    draft.name = cpu if cpu.startswith("EFI") else f"EFI {cpu}"
    draft.fields += found.values()
    if view.at(start + 4, 4) != SIGNATURE:
        draft.damaged("Code type 3 (EFI) without the EFI signature 0EF1h.", start + 4)
    elif not 0 < used <= draft.length:
        text = f"The initialisation size, {used} bytes, does not fit the image length, {draft.length} bytes."
        draft.damaged(text, start + 2)
    elif not HEADER <= offset < used:
        draft.damaged("The driver would begin outside the image.", start + 0x16)
    elif compression == 1:
        text = "The driver is compressed; its bytes were not looked into."
        draft.notes.append(Fault("driver-unread", text, start + 0x0C))
    elif compression != 0:
        draft.damaged(f"Compression type {compression} is unknown; only 0 and 1 are accepted.", start + 0x0C)
    elif start + used <= view.size:
        _read_driver(draft, start + offset, used - offset)


def _read_driver(draft: Draft, at: int, length: int) -> None:
    driver = pe.read_driver(PartView(draft.view, at, length))
    if driver is None:
        draft.damaged("No EFI program begins where the image says.", draft.start + 0x16)
        return
    driver = shifted(driver, at)
    # A driver that is cut short inside its image is the ROM's damage: the image has room for it.
    damage = tuple(Fault("rom-damaged", f"In the driver: {one.text}", one.offset) for one in driver.faults)
    draft.parts.append(replace(driver, faults=damage))
