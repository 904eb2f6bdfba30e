"""Fields of option ROMs, one changed at a time, the legacy image's 8-bit sum repaired (judging.md, "ROM fields").

Offsets: PCI Firmware Specification r3.x, 5.1 (image header, PCI Data Structure); UEFI Specification (EFI image header).
"""

from __future__ import annotations

import random
import struct
from collections.abc import Callable

from sample_bundles import rom
from tests.campaign.classes_bytes import LEGACY, ROMS, UEFI, images, put
from tests.campaign.grounds import Ground
from tests.campaign.mutant import EMPTY, FaultClass, Planted

GROUP = "ROM fields"
MODES = {
    "corvane-bittern": (0xF234, 0x0C80),
    "corvane-heron": (0xF234, 0x0A60),
    "brinewell-plover": (0xF567, 0x2B10),
}
"""Vendor, and the device of the mode that a route starts from."""
Edit = Callable[[bytearray, int, random.Random], None]
"""Changes an image (given alone) whose PCI Data Structure lies at the offset."""


def image_of(data: bytes, role: str) -> tuple[int, int]:
    """Offset and length of the image that `role` needs: the first for legacy x86, the last for EFI."""
    return images(data)[0 if role == LEGACY else -1]


def edited(data: bytes, role: str, edit: Edit, draw: random.Random) -> bytes:
    """The ROM with one of its images edited, and that image's sum repaired where it has one."""
    at, length = image_of(data, role)
    image = bytearray(data[at : at + length])
    edit(image, struct.unpack_from("<H", image, 0x18)[0], draw)
    if role == LEGACY:
        image[-1] = 0
        image[-1] = -sum(image) & 0xFF
    return data[:at] + bytes(image) + data[at + length :]


def _field(
    edit: Edit, *want: str, roles: tuple[str, ...] = ROMS, near: bool = True, family: str = ""
) -> Callable[[Ground, str, random.Random], Planted | None]:
    def plant(ground: Ground, role: str, draw: random.Random) -> Planted | None:
        if role not in roles or not ground.family.startswith(family):
            return None
        return put(ground, role, edited(ground.piece(role).data, role, edit, draw), *want, near=near)

    return plant


def _word(at: int, value: Callable[[int, random.Random], int], in_structure: bool = True) -> Edit:
    def edit(image: bytearray, pcir: int, draw: random.Random) -> None:
        where = at + pcir * in_structure
        struct.pack_into("<H", image, where, value(struct.unpack_from("<H", image, where)[0], draw) & 0xFFFF)

    return edit


def _ids(image: bytearray, pcir: int, vendor: int, device: int) -> None:
    """These IDs, and no list of further ones."""
    struct.pack_into("<HHH", image, pcir + 4, vendor, device, 0)


def _device(image: bytearray, pcir: int, draw: random.Random) -> None:
    (vendor,) = struct.unpack_from("<H", image, pcir + 4)
    _ids(image, pcir, vendor, 0xE000 + draw.randrange(0x1000))


def _vendor(image: bytearray, pcir: int, draw: random.Random) -> None:
    (device,) = struct.unpack_from("<H", image, pcir + 6)
    _ids(image, pcir, 0xF100 + draw.randrange(0x100), device)


def _other_mode(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    def edit(image: bytearray, pcir: int, draw: random.Random) -> None:
        _ids(image, pcir, *MODES[ground.family])

    return _field(edit, "other-mode")(ground, role, draw)


def _pe(image: bytearray) -> int:
    """Where the PE header of the (uncompressed) driver begins."""
    start = int(struct.unpack_from("<H", image, 0x16)[0])
    return start + int(struct.unpack_from("<I", image, start + 0x3C)[0])


def _pe_machine(image: bytearray, pcir: int, draw: random.Random) -> None:
    struct.pack_into("<H", image, _pe(image) + 4, draw.choice((0xAA64, 0x14C)))


def _application(image: bytearray, pcir: int, draw: random.Random) -> None:
    """As the ROM's header says, as the program's says, or both."""
    which = draw.choice((1, 2, 3))
    if which & 1:
        struct.pack_into("<H", image, 8, 10)
    if which & 2:
        struct.pack_into("<H", image, _pe(image) + 24 + 68, 10)


def _last_early(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    data = ground.piece(role).data
    if role != UEFI or len(images(data)) < 2:
        return None

    def edit(image: bytearray, pcir: int, draw: random.Random) -> None:
        image[pcir + 0x15] |= 0x80

    return put(ground, role, edited(data, LEGACY, edit, draw), "image-hidden")


def _joined(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    """Another maker's image behind the sound one, in one file."""
    data = ground.piece(role).data
    if role not in ROMS or len(images(data)) > 1:
        return None

    def edit(image: bytearray, pcir: int, draw: random.Random) -> None:
        image[pcir + 0x15] &= 0x7F

    card = rom.Card(0xF100 + draw.randrange(0x100), draw.randrange(0x10000), 0x010700)
    other = rom.legacy(card, "Other", "Other", "OTHER", draw.randbytes(3_000))
    return put(ground, role, edited(data, role, edit, draw) + other, "images-disagree")


NOT_FOUND = ("rom-damaged", *EMPTY)
CLASSES = (
    FaultClass(GROUP, "PCIR pointer odd",
               _field(_word(0x18, lambda was, d: was + d.choice((1, 3, 5)), False), *NOT_FOUND)),
    FaultClass(GROUP, "PCIR pointer past the end",
               _field(_word(0x18, lambda was, d: 0xFFFF - d.randrange(0x400), False), *NOT_FOUND)),
    FaultClass(GROUP, "image length 0", _field(_word(0x10, lambda was, d: 0), *NOT_FOUND), varied=False),
    FaultClass(GROUP, "image past the end of the file",
               _field(_word(0x10, lambda was, d: d.choice((was * 8, 0x7FFF, 0xFFFF, 0x400 + d.randrange(0x4000)))),
                      *NOT_FOUND)),
    FaultClass(GROUP, "EFI initialisation size past the image",
               _field(_word(2, lambda was, d: was + 1 + d.randrange(200), False), "rom-damaged", roles=(UEFI,))),
    FaultClass(GROUP, "device of the other mode", _other_mode, varied=False),
    FaultClass(GROUP, "device of another card", _field(_device, "other-family", near=False)),
    FaultClass(GROUP, "vendor of another maker", _field(_vendor, "other-family", near=False)),
    FaultClass(GROUP, "last bit early", _last_early, varied=False),
    FaultClass(GROUP, "another maker's image joined", _joined),
    FaultClass(GROUP, "EFI machine changed in the header",
               _field(_word(10, lambda was, d: d.choice((0xAA64, 0x14C)), False), "wrong-cpu", roles=(UEFI,))),
    FaultClass(GROUP, "EFI machine changed in the driver", _field(_pe_machine, "wrong-cpu", roles=(UEFI,))),
    FaultClass(GROUP, "an application in the ROM", _field(_application, "wrong-kind", roles=(UEFI,))),
)  # fmt: skip
