"""The EFI side of an option ROM image (code type 3): its header, and the driver behind it, packed or not.

UEFI Specification 2.x, section 14.4.2 (PCI option ROMs), EFI PCI Expansion ROM header; 19 (compression).

A packed driver is a part with `inside="unpacked"`: its offsets, and those of its own parts, count in the unpacked
bytes. What it claims stands in its image's reading too, with a source that says so: a version without an offset, since
it stands nowhere in the file; a fault or a note at the packed driver's first byte. `unpacked` gives the bytes again.
A family's patterns are looked for in a piece's own bytes, which unpacked ones are not.
"""

from __future__ import annotations

from dataclasses import replace

from catalogue.formats import inner, pe, te_image, uefi_compression, versions
from catalogue.formats.image_draft import Draft
from catalogue.formats.limits import MAX_STRINGS
from catalogue.formats.pci_data_structure import BLOCK
from catalogue.formats.rows import Kind, Row, number, read_rows
from catalogue.formats.shifted import shifted
from catalogue.formats.view import BytesView, PartView, View
from catalogue.shapes.reading import Fault, Reading

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


_SIZES = (
    Row("efi_packed_size", 0, 4, Kind.LE, uefi_compression.SOURCE, "Bytes of the packed driver, without its two sizes"),
    Row("efi_unpacked_size", 4, 4, Kind.LE, uefi_compression.SOURCE, "Bytes of the driver, unpacked"),
)
IN_THE_DRIVER = "in the unpacked driver"
_MAX_TRIED = 500
"""Dots looked at for versions in one unpacked driver: a ROM may hold 64 of them."""


def read_efi(draft: Draft) -> None:
    """Add the EFI header, and the driver unless the file is cut before its end.

    An initialisation size of 0 or above the image length, an unknown compression, bytes that do not unpack and bytes
    that are no driver are faults, as the reference firmware refuses them. A driver too large to be unpacked is left
    unread, which is none.
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
    elif compression not in (0, 1):
        draft.damaged(f"Compression type {compression} is unknown; only 0 and 1 are accepted.", start + 0x0C)
    elif start + used <= view.size:
        where = PartView(view, start + offset, used - offset)
        (_read_packed if compression else _read_driver)(draft, where, start + offset)


def unpacked(view: View, image: Reading) -> bytes | None:
    """The unpacked driver of `image`, one part of the reading of the option ROM `view`; None where it has none.

    Offsets in the image's part that lies a layer deeper count in these bytes. Raises nothing but the view's own
    OSError.
    """
    if not any(part.layer > image.layer for part in image.parts):
        return None
    offset, used = image.value("efi_image_offset"), image.value("initialisation_size")
    assert isinstance(offset, int)
    assert isinstance(used, int)
    return uefi_compression.unpack(view.at(image.offset + offset, used - offset)).data


def driver_bytes(view: View, image: Reading) -> bytes | None:
    """The driver's bytes as firmware loads them, unpacked where they are packed; None where they cannot be had.

    `image` is one part of the reading of the option ROM `view`. Raises nothing but the view's own OSError.
    """
    offset, used = image.value("efi_image_offset"), image.value("initialisation_size")
    if not isinstance(offset, int) or not isinstance(used, int) or not 0 < offset < used:
        return None
    if image.value("efi_compression"):
        return unpacked(view, image)
    return view.at(image.offset + offset, used - offset)


def _program(view: View) -> Reading | None:
    """The EFI program that fills `view`, as PE or TE image."""
    return pe.read_driver(view) or te_image.read(view)


def _damage(driver: Reading) -> tuple[Fault, ...]:
    """A driver that is cut short inside its image is the ROM's damage: the image has room for it.

    What is wrong with its signatures is theirs alone: the driver may be whole.
    """
    return tuple(
        one if one.code.startswith("signature-") else Fault("rom-damaged", f"In the driver: {one.text}", one.offset)
        for one in driver.faults
    )


def _read_driver(draft: Draft, view: View, at: int) -> None:
    driver = _program(view)
    if driver is None:
        draft.damaged("No EFI program begins where the image says.", draft.start + 0x16)
        return
    driver = shifted(driver, at)
    draft.parts.append(replace(driver, faults=_damage(driver)))


def _read_packed(draft: Draft, view: View, at: int) -> None:
    draft.fields += read_rows(_SIZES, draft.view, at).values() if view.size >= uefi_compression.HEADER else ()
    result = uefi_compression.unpack(view.at(0, view.size))
    if result.damaged:
        draft.damaged(f"The driver does not unpack. {result.why}", at)
        return
    if result.data is None:
        draft.notes.append(Fault("driver-unread", f"The driver was not unpacked. {result.why}", at))
        return
    bytes_view = BytesView(result.data)
    driver = _program(bytes_view)
    if driver is None:
        draft.damaged("What unpacks from the image is no EFI program.", at)
        return
    own = {one.value for one in driver.versions}
    strings = (one for one in versions.find(bytes_view, _MAX_TRIED) if one.value not in own)
    driver = replace(inner.inside(driver), faults=_damage(driver), versions=(*driver.versions, *strings)[:MAX_STRINGS])
    draft.parts.append(driver)
    draft.versions += (replace(one, source=f"{one.source} {IN_THE_DRIVER}", offset=None) for one in driver.versions)
    draft.faults += (replace(one, offset=at) for one in driver.faults)
    draft.notes += (replace(one, offset=at) for one in driver.notes)
