"""The volume descriptors of an ISO 9660 image: its trees of folders, and where its boot catalogue lies.

ECMA-119 (4th edition, 2019; ISO 9660), clause 8: 8.1 volume descriptor, 8.2 boot record, 8.4 primary, 8.5 supplementary
and enhanced. Joliet Specification (1995): supplementary descriptors with the escape sequences of UCS-2.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from catalogue.formats.limits import MAX_DESCRIPTORS
from catalogue.formats.rows import Found, Kind, Row, read_rows
from catalogue.formats.view import View

SECTOR = 2_048
START = 16 * SECTOR
"""6.2.1: the system area fills the first 16 sectors."""
IDENTIFIER = b"CD001"
EL_TORITO = b"EL TORITO SPECIFICATION"
BLOCKS = (512, 1_024, 2_048)
ROOT_AT, RECORD_BYTES = 156, 34
_BOOT, _PRIMARY, _SUPPLEMENTARY, _TERMINATOR = 0, 1, 2, 255
_UCS2 = (b"%/@", b"%/C", b"%/E")
"""Joliet: levels 1 to 3 of UCS-2, in the descriptor's escape sequences."""
PRIMARY, ENHANCED, JOLIET = "primary", "enhanced", "Joliet"
_SOURCE = "ECMA-119, 8.4"

ROWS = (
    Row("system_id", 8, 32, Kind.TEXT, _SOURCE, "The system that can use the first 16 sectors"),
    Row("volume_id", 40, 32, Kind.TEXT, _SOURCE, "Name of the volume"),
    Row("volume_blocks", 80, 4, Kind.LE, _SOURCE, "Logical blocks of the volume"),
    Row("block_bytes", 128, 2, Kind.LE, _SOURCE, "Bytes of one logical block"),
    Row("publisher_id", 318, 128, Kind.TEXT, _SOURCE, "Who published it"),
    Row("preparer_id", 446, 128, Kind.TEXT, _SOURCE, "Who prepared its data"),
    Row("application_id", 574, 128, Kind.TEXT, _SOURCE, "The program that it is meant for, or was made by"),
    Row("created", 813, 16, Kind.TEXT, _SOURCE, "When it was made: year, month, day, time"),
)
_BOTH = ((80, 4), (120, 2), (124, 2), (128, 2), (132, 4), (ROOT_AT + 2, 4), (ROOT_AT + 10, 4))
"""Numbers that stand in both byte orders (7.2.3, 7.3.3): offset and width of the first."""


@dataclass(frozen=True, slots=True)
class Tree:
    """One tree of folders: `root` is the root folder's offset in the image, `length` its bytes, both as stated."""

    kind: str
    root: int
    length: int
    block: int
    listed_at: int


@dataclass(slots=True)
class Volume:
    """What the descriptors say. `odd` are oddities with offsets, `catalogue` the boot catalogue's offset."""

    found: Found
    block: int
    total_bytes: int
    trees: list[Tree] = field(default_factory=list)
    catalogue: int | None = None
    catalogue_listed_at: int = 0
    end: int = START
    closed: bool = False
    odd: list[tuple[str, int]] = field(default_factory=list)


def begins(view: View) -> bool:
    """Whether a volume descriptor stands where the first must."""
    head = view.at(START, 7)
    return head[1:6] == IDENTIFIER and head[0] in (_BOOT, _PRIMARY, _SUPPLEMENTARY, 3)


def volume(view: View) -> Volume | None:
    """The volume; None where no sound primary descriptor is among the first MAX_DESCRIPTORS."""
    if not begins(view):
        return None
    made: Volume | None = None
    others: list[tuple[int, bytes]] = []
    boot: list[tuple[int, bytes]] = []
    at, closed = START, False
    for _ in range(MAX_DESCRIPTORS):
        raw = view.at(at, SECTOR)
        if len(raw) < SECTOR or raw[1:6] != IDENTIFIER:
            break
        if raw[0] == _TERMINATOR:
            at, closed = at + SECTOR, True
            break
        if raw[0] == _PRIMARY and made is None:
            made = _primary(view, raw, at)
        elif raw[0] == _SUPPLEMENTARY:
            others.append((at, raw))
        elif raw[0] == _BOOT and raw[7:30] == EL_TORITO:
            boot.append((at, raw))
        at += SECTOR
    if made is None:
        return None
    made.end, made.closed = at, closed
    for where, raw in others:
        tree = _tree(raw, where, JOLIET if raw[88:91] in _UCS2 else ENHANCED if raw[6] == 2 else "")
        if tree is not None and tree.kind:
            made.trees.append(tree)
        else:
            made.odd.append(("A supplementary volume descriptor is not understood.", where))
    for where, raw in boot[:1]:
        made.catalogue = int.from_bytes(raw[71:75], "little") * SECTOR
        made.catalogue_listed_at = where + 71
    return made


def _primary(view: View, raw: bytes, at: int) -> Volume | None:
    tree = _tree(raw, at, PRIMARY)
    if tree is None:
        return None
    blocks = int.from_bytes(raw[80:84], "little")
    made = Volume(read_rows(ROWS, view, at), tree.block, blocks * tree.block, [tree])
    for offset, width in _BOTH:
        if raw[offset : offset + width] != raw[offset + width : offset + 2 * width][::-1]:
            made.odd.append(("A number of the volume descriptor differs between its two byte orders.", at + offset))
            break
    return made


def _tree(raw: bytes, at: int, kind: str) -> Tree | None:
    """The tree of a descriptor; None where its block size or root record cannot be."""
    block = int.from_bytes(raw[128:130], "little")
    record = raw[ROOT_AT : ROOT_AT + RECORD_BYTES]
    if len(record) < RECORD_BYTES or block not in BLOCKS or record[0] < RECORD_BYTES or not record[25] & 2:
        return None
    start, length = int.from_bytes(record[2:6], "little"), int.from_bytes(record[10:14], "little")
    return Tree(kind, (start + record[1]) * block, length, block, at + ROOT_AT)
