"""The legacy x86 side of an option ROM image: initialisation size, sum, `$PnP` and UNDI; and ISA-style ROMs.

PCI Firmware Specification 3.x, section 5.1.1; Plug and Play BIOS 1.0A, section 3.1 (ISA-style ROMs, which have no
PCI Data Structure).
"""

from __future__ import annotations

from catalogue.formats import pnp, undi
from catalogue.formats.image_draft import SOURCE, Draft, Image
from catalogue.formats.pci_data_structure import BLOCK
from catalogue.formats.sums import byte_sum
from catalogue.formats.view import View
from catalogue.shapes.reading import Field

ISA_SOURCE = "Plug and Play BIOS 1.0A, 3.1"
JUMPS = (0xE9, 0xEB)
"""First byte of an INIT entry that is a jump (8086 instruction set: near, short)."""


def initialisation_size(view: View, start: int) -> int:
    """Bytes by the header's 02h; 0 where that byte is missing."""
    return int.from_bytes(view.at(start + 2, 1), "little") * BLOCK


def read_legacy(draft: Draft) -> None:
    """Add initialisation size, sum, `$PnP` headers and UNDI; the sum must hold, and all its bytes must be there."""
    view, start = draft.view, draft.start
    size = draft.used = initialisation_size(view, start)
    body = view.at(start, size)
    total = byte_sum(body) & 0xFF
    if size == 0:
        draft.damaged("The initialisation size is 0, so no byte is under the sum.", start + 2)
    elif len(body) < size:
        draft.damaged(f"The file ends {size - len(body)} bytes inside the initialisation size.", start + 2)
    elif total:
        draft.damaged(f"The bytes over the initialisation size sum to {total:02X}h; they must sum to 00h.", start + 2)
    sum_ok = len(body) == size > 0 and total == 0
    draft.fields += (
        Field("initialisation_size", size, start + 2, 1, "Bytes under the sum, which system firmware copies", SOURCE),
        Field("checksum_ok", sum_ok, None, 0, "Whether the bytes over the initialisation size sum to 0", SOURCE),
    )
    end = max(draft.end, start + len(body))
    pointers = view.at(start + 0x16, 6)
    draft.parts += pnp.read_chain(view, start, end, int.from_bytes(pointers[4:6], "little"))
    draft.parts += undi.read_undi(view, start, end, int.from_bytes(pointers[0:2], "little"))


def read_isa(view: View, start: int) -> Image | None:
    """The image at `start`, which has no PCI Data Structure.

    Where its sum holds it is an ISA-style ROM. Where it does not, it is a damaged image if its INIT entry is a jump;
    else nothing but 55AAh speaks for an image, and the answer is None.
    """
    size = initialisation_size(view, start)
    if size == 0:
        return None
    draft = Draft(view, start, size, ends=True)
    draft.fields.append(Field("length", size, start + 2, 1, "Bytes this image takes", ISA_SOURCE))
    read_legacy(draft)
    if draft.faults:
        if view.at(start + 3, 1) not in map(bytes, zip(JUMPS)):
            return None
        draft.name, draft.broken = "legacy header without PCI Data Structure", True
        draft.damaged("The pointer at 18h leads to no PCI Data Structure.", start + 0x18)
    else:
        draft.kind, draft.name = "option-rom/isa", "ISA-style"
        draft.odd("An ISA-style ROM: the pointer at 18h leads to no PCI Data Structure.", start + 0x18)
    return draft.finish()
