"""One image of an option ROM: header, PCI Data Structure, and what its code type adds.

PCI Firmware Specification 3.x, section 5.1 (earlier: PCI Local Bus 2.2, section 6.3).
"""

from __future__ import annotations

from catalogue.formats import efi_image, legacy_image, open_firmware, pci_data_structure
from catalogue.formats.image_draft import SOURCE, Draft, Image
from catalogue.formats.pci_data_structure import BLOCK, Structure
from catalogue.formats.view import View
from catalogue.shapes.reading import Field

SIGNATURE = b"\x55\xaa"
HEADER = 0x1A
"""Bytes up to the end of the pointer at 18h."""
_FAR = 0x1_0000 + pci_data_structure.LEAST
"""A 16-bit pointer leads no further than this."""
KINDS = {
    0: ("legacy-x86", "legacy x86"),
    1: ("open-firmware", "Open Firmware"),
    2: ("pa-risc", "PA-RISC"),
    3: ("efi", "EFI"),
}
"""PCI Firmware Specification 5.1.2, code types; all others are reserved."""


def has_header(view: View, start: int) -> bool:
    """Whether an image plainly begins at `start`: 55AAh, and either its PCI Data Structure or the EFI signature."""
    head = view.at(start, HEADER)
    if head[:2] != SIGNATURE or len(head) < HEADER:
        return False
    return head[4:8] == efi_image.SIGNATURE or pci_data_structure.is_at(view, start + _pointer(head))


def read_image(view: View, start: int) -> Image | None:
    """The image that begins at `start`; None where 55AAh does not stand there or nothing else speaks for an image."""
    head = view.at(start, HEADER)
    if head[:2] != SIGNATURE:
        return None
    if len(head) == HEADER and pci_data_structure.is_at(view, start + _pointer(head)):
        return _with_structure(view, start, start + _pointer(head), "")
    lost = pci_data_structure.find_lost(view.at(start, min(_FAR, _reach(head))), start)
    if lost is not None:
        where = f"one lies at {lost - start:04X}h"
        text = f"The pointer at 18h leads to {_pointer(head):04X}h, where no PCI Data Structure is; {where}."
        return _with_structure(view, start, lost, text)
    if head[4:8] == efi_image.SIGNATURE:
        return _efi_alone(view, start)
    return legacy_image.read_isa(view, start, lambda: _is_followed(view, start))


def _is_followed(view: View, start: int) -> bool:
    """Whether an image plainly begins behind `start`, no further than one without a found structure may reach."""
    return any(has_header(view, at) for at in range(start + BLOCK, start + 0x1_0000, BLOCK))


def _pointer(head: bytes) -> int:
    return int.from_bytes(head[0x18:0x1A], "little")


def _reach(head: bytes) -> int:
    """How far an image without a found structure may reach: its initialisation size, two bytes long in an EFI image."""
    size = 2 if head[4:8] == efi_image.SIGNATURE else 1
    return max(BLOCK, int.from_bytes(head[2 : 2 + size], "little") * BLOCK)


def _with_structure(view: View, start: int, at: int, astray: str) -> Image:
    """An image whose PCI Data Structure lies at `at`; `astray` says how its pointer fails to lead there."""
    declared = int.from_bytes(view.at(at + 0x10, 2), "little") * BLOCK
    legacy = view.at(at + 0x14, 1) == b"\0"
    initial = legacy_image.initialisation_size(view, start)
    # System firmware takes the larger of the two lengths of a legacy image; not where another image begins inside.
    larger = legacy and initial > declared and not (declared and has_header(view, start + declared))
    draft = Draft(view, start, initial if larger else declared)
    structure = pci_data_structure.read_structure(view, at, draft.end if draft.length else view.size)
    draft.notes += structure.notes
    draft.ends = structure.last
    if astray:
        draft.damaged(astray, start + 0x18)
    _judge_structure(draft, structure, declared)
    if legacy and initial > declared > 0:
        text = f"The initialisation size, {initial} bytes, is larger than the image length, {declared} bytes."
        draft.odd(text, start + 2)
    kind, draft.name = KINDS.get(structure.code_type, ("reserved", f"code type {structure.code_type:02X}h"))
    draft.kind = f"option-rom/{kind}"
    if structure.whole:
        draft.ids = (structure.card,)
        where = (start + 2, 1) if larger else (at + 0x10, 2)
        draft.fields.append(Field("length", draft.length, *where, "Bytes this image takes", SOURCE))
        draft.fields += structure.before_code()
        _read_code(draft, structure.code_type)
        draft.fields += structure.after_code()
    draft.fields.append(
        Field("pcir_offset", at - start, start + 0x18, 2, "The PCI Data Structure, from the image's start", SOURCE)
    )
    return draft.finish()


def _judge_structure(draft: Draft, structure: Structure, declared: int) -> None:
    """The faults of length, place and vendor ID."""
    at, over = structure.offset, draft.start + draft.length - draft.view.size
    draft.broken = True
    if not structure.whole:
        draft.damaged("The file ends inside the PCI Data Structure.", at)
        draft.name = "cut short"
    elif declared == 0:
        draft.damaged("The image length is 0.", at + 0x10)
    elif over > 0:
        draft.damaged(f"The image is {draft.length} bytes long and reaches {over} bytes past the end.", at + 0x10)
    else:
        draft.broken = False
        if at + pci_data_structure.LEAST > draft.end:
            draft.damaged("The PCI Data Structure lies outside its image.", draft.start + 0x18)
    if (at - draft.start) % 4 and structure.code_type != 1:
        draft.damaged("The PCI Data Structure does not stand on a 4-byte boundary.", draft.start + 0x18)
    if structure.whole and structure.card.vendor == 0:
        draft.odd("The vendor ID is 0000h, which no vendor has.", at + 4)


def _read_code(draft: Draft, code_type: int) -> None:
    """What the code type adds."""
    draft.used = draft.length
    if code_type == 0:
        legacy_image.read_legacy(draft)
    elif code_type == 1:
        open_firmware.read_program(draft)
    elif code_type == 3:
        efi_image.read_efi(draft)


def _efi_alone(view: View, start: int) -> Image:
    """An image with the EFI header and no PCI Data Structure: the header alone says how long it is."""
    length = int.from_bytes(view.at(start + 2, 2), "little") * BLOCK
    draft = Draft(view, start, length, "option-rom/efi", broken=True)
    draft.damaged("The pointer at 18h leads to no PCI Data Structure.", start + 0x18)
    if start + length > view.size:
        draft.damaged(f"The image reaches {start + length - view.size} bytes past the end.", start + 2)
    draft.fields.append(
        Field("length", length, start + 2, 2, "Bytes this image takes, by its initialisation size", efi_image.SOURCE)
    )
    efi_image.read_efi(draft)
    return draft.finish()
