"""The boot catalogue of an ISO 9660 image: which images machines start from.

El Torito Bootable CD-ROM Format Specification 1.0 (1995), clause 2; UEFI Specification 2.10, 13.3.2.1 (platform EFh).
"""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.formats.fat_boot import boot
from catalogue.formats.iso_volume import SECTOR
from catalogue.formats.limits import MAX_DESCRIPTORS
from catalogue.formats.view import PartView, View

ENTRY = 32
_VALIDATION, _HEADER, _LAST_HEADER, _EXTENSION = 0x01, 0x90, 0x91, 0x44
_BOOTABLE = 0x88
_VIRTUAL = 512
"""Sector counts are in virtual sectors of this many bytes."""
_FLOPPY = {1: 1_200 << 10, 2: 1_440 << 10, 3: 2_880 << 10}
_HARD_DISK = 4
PLATFORMS = {0: "x86", 1: "PowerPC", 2: "Mac", 0xEF: "UEFI"}
MEDIA = {0: "no emulation", 1: "1.2 MB floppy", 2: "1.44 MB floppy", 3: "2.88 MB floppy", 4: "hard disk"}


@dataclass(frozen=True, slots=True)
class BootImage:
    """One image to start from: its place and length in the image (`length` 0 where nothing tells it)."""

    number: int
    platform: str
    media: str
    bootable: bool
    offset: int
    length: int
    listed_at: int


@dataclass(slots=True)
class Catalogue:
    """The whole catalogue, and what is wrong with it."""

    images: list[BootImage]
    end: int
    fault: str = ""


def boot_catalogue(view: View, at: int) -> Catalogue:
    """The catalogue at `at`, at most MAX_DESCRIPTORS entries of it."""
    made = Catalogue([], at + ENTRY)
    first = view.at(at, ENTRY)
    if len(first) < ENTRY or first[0] != _VALIDATION or first[30:] != b"\x55\xaa":
        made.fault = "Its boot catalogue does not begin with a validation entry."
        return made
    if sum(int.from_bytes(first[n : n + 2], "little") for n in range(0, ENTRY, 2)) & 0xFFFF:
        made.fault = "The sum of its boot catalogue is wrong."
    platform, expected, last = first[1], 1, False
    for _ in range(MAX_DESCRIPTORS):
        raw = view.at(made.end, ENTRY)
        if len(raw) < ENTRY:
            break
        if expected:
            if raw[0] not in (_BOOTABLE, 0, _EXTENSION):
                made.fault = made.fault or "An entry of its boot catalogue is not understood."
                break
            if raw[0] != _EXTENSION:
                made.images.append(_image(view, raw, made.end, platform, len(made.images) + 1))
                expected -= 1
        elif raw[0] in (_HEADER, _LAST_HEADER) and not last:
            platform, expected, last = raw[1], int.from_bytes(raw[2:4], "little"), raw[0] == _LAST_HEADER
        elif raw[0] != _EXTENSION:
            break
        made.end += ENTRY
    else:
        made.fault = made.fault or f"Its boot catalogue has more than {MAX_DESCRIPTORS} entries."
    made.images = [one for one in made.images if one.offset]
    return made


def _image(view: View, raw: bytes, at: int, platform: int, number: int) -> BootImage:
    media, count = raw[1] & 0xF, int.from_bytes(raw[6:8], "little")
    offset = int.from_bytes(raw[8:12], "little") * SECTOR
    length = _FLOPPY.get(media, 0)
    if media == _HARD_DISK:
        # One partition, as the image's own master boot record says.
        record = view.at(offset, 512)
        if record[510:] == b"\x55\xaa":
            length = sum(int.from_bytes(record[n : n + 4], "little") for n in (454, 458)) * _VIRTUAL
    elif media == 0:
        layout = boot(PartView(view, offset, view.size)) if 0 < offset < view.size else None
        stated = count * _VIRTUAL if count > 1 or platform != 0xEF else 0
        length = max(stated, layout.total_bytes if layout is not None else 0)
    return BootImage(
        number,
        PLATFORMS.get(platform, f"platform {platform:02X}h"),
        MEDIA.get(media, f"medium {media}"),
        raw[0] == _BOOTABLE,
        offset,
        length,
        at,
    )
