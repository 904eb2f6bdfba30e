"""UEFI capsules: what firmware takes as an update. Those for firmware management are read down to their payloads.

UEFI Specification 2.x, 8.5.3.1 (EFI_CAPSULE_HEADER), 23.3 (delivering capsules that contain updates to firmware
management protocol).
"""

from __future__ import annotations

from itertools import chain

from catalogue.formats import capsule_items, inner
from catalogue.formats.capsule_draft import Draft
from catalogue.formats.limits import MAX_STRINGS
from catalogue.formats.overlay import is_padding
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.rows import Kind, Row, efi_guid, number, read_rows
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading, Span

SOURCE = "UEFI Specification 8.5.3.1"
MANAGEMENT = "6DCBD5ED-E82D-4C44-BDA1-7194199AD92A"
"""EFI_FIRMWARE_MANAGEMENT_CAPSULE_ID_GUID (23.3.2)."""
NAMES = {
    MANAGEMENT: "firmware management",
    "39B68C46-F7FB-441B-B6EC-16B0F69821F3": "capsule report",
    "67D6F4CD-D6B8-4573-BF4A-DE5E252D61AE": "JSON",
    "3B8C8162-188C-46A4-AEC9-BE43F1D65697": "pictures shown while updating",
    "0C996046-BCC0-4D04-85EC-E1FCEDF1C6F8": "acceptance of firmware",
    "ACD58B4B-C0E8-475F-99B5-6B3F7E07AAF0": "return to the firmware before",
}
"""The first three by the UEFI Specification; the others as firmware projects publish them (from memory)."""
LEAST = 0x1C
_ROWS = (
    Row("capsule_guid", 0, 16, Kind.GUID, SOURCE, "What the capsule is for"),
    Row("header_size", 16, 4, Kind.LE, SOURCE, "Where the capsule's content begins"),
    Row("flags", 20, 4, Kind.LE, SOURCE, "Low 16 bits by the GUID; 10000h, 20000h, 40000h as below"),
    Row("capsule_size", 24, 4, Kind.LE, SOURCE, "Bytes of the capsule, header included"),
)
_FLAGS = (
    ("persist_across_reset", 0x10000, "Whether it is kept over a reset and processed then"),
    ("populate_system_table", 0x20000, "Whether its content is put into the EFI system table"),
    ("initiate_reset", 0x40000, "Whether handing it over resets the machine"),
)
_KNOWN_FLAGS = 0x7_FFFF


def looks_like(view: View) -> Looks:
    """SURE of the GUID for firmware management; MAYBE where size and flags are those of a capsule."""
    head = view.at(0, LEAST)
    if len(head) < LEAST:
        return Looks.NO
    if head.startswith(_MANAGEMENT_BYTES):
        return Looks.SURE
    return Looks.MAYBE if int.from_bytes(head[24:28], "little") == view.size and _makes_sense(head) else Looks.NO


_NO_HIGH, _HALF = b"\0\0", 0x1_0000
_MANAGEMENT_BYTES = bytes.fromhex("EDD5CB6D2DE8444CBDA17194199AD92A")


def maybe(data: bytes) -> bool:
    """See Reader.maybe."""
    # The high half of the size is looked at first: it is 0 in a short piece, and no other look is as cheap.
    if data[26:28] != _NO_HIGH and len(data) < _HALF:
        return data[:16] == _MANAGEMENT_BYTES
    return data[:16] == _MANAGEMENT_BYTES or int.from_bytes(data[24:28], "little") == len(data) >= LEAST


def _makes_sense(head: bytes) -> bool:
    """Whether a header whose capsule is as long as the file is one, by what every capsule has."""
    size, flags = int.from_bytes(head[16:20], "little"), int.from_bytes(head[20:24], "little")
    length = int.from_bytes(head[24:28], "little")
    if not LEAST <= size <= length or flags & ~_KNOWN_FLAGS or size % 4:
        return False
    return efi_guid(head[:16]) in NAMES or _is_guid(head[:16])


def _is_guid(raw: bytes) -> bool:
    """Whether 16 bytes are an identifier as its makers draw it: variant and version (RFC 9562, 4.1, 4.2), and mixed.

    Without that, machine code that a length happens to stand in would be a capsule.
    """
    return raw[8] >> 6 == 0b10 and 1 <= raw[7] >> 4 <= 8 and len(set(raw)) > 4


def read(view: View) -> Reading | None:
    """The capsule that fills `view`; None where none begins there."""
    if looks_like(view) is Looks.NO:
        return None
    found = read_rows(_ROWS, view, 0)
    draft = Draft(view, list(found.values()))
    guid = str(found["capsule_guid"].value)
    flags = number(found, "flags")
    place = found["flags"].offset
    draft.fields += (Field(name, bool(flags & bit), place, 4, meaning, SOURCE) for name, bit, meaning in _FLAGS)
    start, size = number(found, "header_size"), number(found, "capsule_size")
    end = min(size, view.size)
    if size > view.size:
        draft.faults.append(Fault("cut-short", f"The file ends after {view.size} of the capsule's {size} bytes.", 24))
    what = NAMES.get(guid)
    with inner.reading(view):
        if not LEAST <= start <= size:
            draft.damaged(f"The header size, {start}, is less than 28 or more than the capsule's size.", 16)
        else:
            draft.spans.append(Span("capsule header", 0, min(start, end)))
            if guid == MANAGEMENT:
                capsule_items.read_items(draft, start, end)
            elif end > start:
                _content(draft, start, end)
    _behind(draft, end)
    title = f"UEFI capsule, {what or 'GUID ' + guid}"
    payloads = sum(part.kind == "capsule-payload" for part in draft.parts)
    drivers = sum(part.format == "pe" for part in draft.parts) if guid == MANAGEMENT else 0
    if payloads or drivers:
        title += f"; payloads: {payloads}" + (f", drivers: {drivers}" if drivers else "")
    elif draft.parts:
        title += f": {draft.parts[0].title}"
    return Reading(
        format=READER.name,
        kind="capsule",
        title=title,
        length=view.size,
        fields=tuple(draft.fields),
        parts=tuple(draft.parts),
        ids=tuple(dict.fromkeys(chain.from_iterable(part.ids for part in draft.parts))),
        versions=tuple(chain.from_iterable(part.versions for part in draft.parts if not part.inside))[:MAX_STRINGS],
        faults=tuple(draft.faults),
        notes=tuple(draft.notes),
        spans=tuple(draft.spans),
    )


def _content(draft: Draft, start: int, end: int) -> None:
    """What a capsule of another GUID holds: a firmware volume, as a rule."""
    draft.spans.append(Span("capsule content", start, end - start))
    found = inner.known_at(draft.view, start, end - start)
    if found is not None:
        draft.add(found)


def _behind(draft: Draft, end: int) -> None:
    size = draft.view.size
    if end >= size:
        return
    padding = is_padding(draft.view, end, size)
    draft.spans.append(Span("padding" if padding else "behind the capsule", end, size - end))
    if not padding:
        draft.notes.append(Fault("data-after-end", "Bytes lie behind the capsule.", end))


READER = Reader(
    name="capsule",
    kinds=("capsule",),
    looks_like=looks_like,
    read=read,
    version=3,
    source="UEFI Specification 2.x, 8.5.3.1, 23.1, 23.3",
    depth="header, flags; for firmware management drivers and payloads (header versions 1 to 3), image types, "
    "authentication header with its signature (signers, chains, whether it is of these bytes), dependencies; each "
    "payload read by itself",
    maybe=maybe,
)
