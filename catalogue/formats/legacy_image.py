"""The legacy x86 side of an option ROM image: initialisation size, sum, `$PnP` and UNDI; and ISA-style ROMs.

PCI Firmware Specification 3.x, section 5.1.1; Plug and Play BIOS 1.0A, section 3.1 (ISA-style ROMs, which have no
PCI Data Structure).
"""

from __future__ import annotations

from collections.abc import Callable

from catalogue.formats import pnp, undi
from catalogue.formats.image_draft import SOURCE, Draft, Image
from catalogue.formats.pci_data_structure import BLOCK
from catalogue.formats.sums import byte_sum
from catalogue.formats.view import View
from catalogue.shapes.reading import Field

ISA_SOURCE = "Plug and Play BIOS 1.0A, 3.1"
_NEAR, _SHORT, _FAR_RETURN = 0xE9, 0xEB, 0xCB
"""First byte of an INIT entry: a jump, or the return of a ROM with nothing to initialise (8086 instruction set)."""
_ENTRY = 3


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


def read_isa(view: View, start: int, followed: Callable[[], bool] = lambda: False) -> Image | None:
    """The image at `start`, which has no PCI Data Structure.

    55AAh and a sum of one byte are weak marks: of 256 files that begin so one has them by chance. So more must speak
    for it: a size that is the file's to the byte; or the INIT entry is code that such ROMs begin with, or a `$PnP`
    header stands where the pointer at 1Ah leads. With the sum and one of them it is an ISA-style ROM; without the sum
    a damaged image, if it has such an entry, and the file's size or an image that plainly begins behind it
    (`followed`). Else the answer is None.
    """
    size = initialisation_size(view, start)
    fills, entry = start + size == view.size, _has_entry(view, start, size)
    if size == 0 or not (fills or entry):
        return None
    draft = Draft(view, start, size, ends=True)
    draft.fields.append(Field("length", size, start + 2, 1, "Bytes this image takes", ISA_SOURCE))
    read_legacy(draft)
    if draft.faults:
        if not entry or not (fills or followed()):
            return None
        draft.name, draft.broken = "legacy header without PCI Data Structure", True
        draft.damaged("The pointer at 18h leads to no PCI Data Structure.", start + 0x18)
    else:
        draft.kind, draft.name = "option-rom/isa", "ISA-style"
        draft.odd("An ISA-style ROM: the pointer at 18h leads to no PCI Data Structure.", start + 0x18)
    return draft.finish()


def _has_entry(view: View, start: int, size: int) -> bool:
    """Whether the INIT entry is a jump to a place inside the image, or a return; or a `$PnP` header is announced."""
    head = view.at(start + _ENTRY, 3)
    if head[:1] == bytes((_NEAR,)) and len(head) == 3:
        return 6 <= (6 + int.from_bytes(head[1:], "little", signed=True)) < size
    if head[:1] == bytes((_SHORT,)) and len(head) >= 2:
        return 5 <= 5 + int.from_bytes(head[1:2], "little", signed=True) < size
    pointer = int.from_bytes(view.at(start + 0x1A, 2), "little")
    return head[:1] == bytes((_FAR_RETURN,)) or bool(pnp.read_chain(view, start, start + size, pointer))
