"""PCI option ROMs: one image or several end to end, as system firmware walks them, and what it would not reach.

PCI Firmware Specification 3.x, section 5.1 (earlier: PCI Local Bus 2.2, section 6.3).
"""

from __future__ import annotations

from dataclasses import replace
from itertools import chain

from catalogue.formats import date_stamps, rom_image, versions
from catalogue.formats.limits import MAX_STRINGS
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.rom_walk import walk
from catalogue.formats.view import View
from catalogue.shapes.reading import CardId, Field, Reading, VersionClaim

SOURCE = "PCI Firmware Specification 5.1"


def looks_like(view: View) -> Looks:
    """Sure of 55AAh with a PCI Data Structure or the EFI signature; 55AAh alone may be an ISA-style ROM."""
    if view.at(0, 2) != rom_image.SIGNATURE:
        return Looks.NO
    return Looks.SURE if rom_image.has_header(view, 0) else Looks.MAYBE


def read(view: View) -> Reading | None:
    """Every image, in order, each a part; None where not even the first is an image.

    Images that system firmware would not reach have the field `hidden` and the note `image-hidden`. `faults`, `notes`,
    `ids` and `versions` hold those of the images too, equal ones once.
    """
    walked = walk(view)
    if not walked.images:
        return None
    strings = versions.find(view)
    parts = tuple(_with_strings(image.reading, strings) for image in walked.images)
    names = [image.name for image in walked.images]
    ids: tuple[CardId, ...] = tuple(dict.fromkeys(chain.from_iterable(part.ids for part in parts)))
    cards = ", ".join(dict.fromkeys(f"{one.vendor:04X}:{one.device:04X}" for one in ids))
    if len(parts) == 1:
        kind, title = parts[0].kind, f"Option ROM, {names[0]}"
    else:
        kind, title = "option-rom", f"Option ROM, {len(parts)} images: {', '.join(names)}"
    return Reading(
        format=READER.name,
        kind=kind,
        title=f"{title}; {cards}" if cards else title,
        length=view.size,
        fields=(
            Field("images", len(parts), None, 0, "Images found in this file", SOURCE),
            Field("image_names", tuple(names), None, 0, "What each image is for", SOURCE),
        ),
        parts=parts,
        ids=ids,
        versions=(*chain.from_iterable(image.reading.versions for image in walked.images), *strings)[:MAX_STRINGS],
        faults=tuple(chain.from_iterable(part.faults for part in parts)),
        notes=(*chain.from_iterable(part.notes for part in parts), *walked.notes),
        spans=walked.spans,
        dates=date_stamps.find(view),
    )


def _with_strings(reading: Reading, strings: tuple[VersionClaim, ...]) -> Reading:
    """An image's reading with the version-like strings that lie inside it, behind what its structures claim."""
    end = reading.offset + reading.length
    own = tuple(one for one in strings if one.offset is not None and reading.offset <= one.offset < end)
    return replace(reading, versions=(*reading.versions, *own)[:MAX_STRINGS]) if own else reading


READER: Reader = Reader(
    name="option-rom",
    first=(rom_image.SIGNATURE,),
    kinds=(
        "option-rom",
        *(f"option-rom/{word}" for word, _ in rom_image.KINDS.values()),
        "option-rom/reserved",
        "option-rom/isa",
    ),
    looks_like=looks_like,
    read=read,
    version=6,
    source="PCI Firmware Specification 3.x, 5.1; UEFI Specification 14.4.2, 19; PI Specification 1, 15; IEEE 1275; "
    "PnP BIOS 1.0A; PXE 2.1",
    depth="Every image: header, sum, PCI Data Structure, device list, EFI header and driver (PE or TE, UEFI-compressed "
    "ones unpacked), FCode header, $PnP, UNDI",
)
