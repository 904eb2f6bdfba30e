"""`[layout.NAME]` of a family file: what a configuration EEPROM image must be. Offsets and lengths are bytes."""

from __future__ import annotations

from catalogue.families.cursor import NAME, Table
from catalogue.families.values import hex_byte, hex_bytes
from catalogue.shapes.layout import Layout, LayoutField, LayoutSum

WIDTHS = {"u8": 1, "u16le": 2, "u16be": 2, "u32le": 4, "u32be": 4, "u64le": 8, "u64be": 8}
LONG = ("ascii", "bytes")
SUM_WIDTHS = {"sum8": 1, "sum16le": 2, "sum16be": 2, "xor8": 1, "crc16": 2, "crc32": 4}
MODE_MEANINGS = ("mode.vendor", "mode.device", "mode.subvendor", "mode.subdevice")
IDENTITY = "identity."
MAX_LAYOUT = 1 << 24


def read_layout(name: str, table: Table) -> Layout | None:
    """One layout, or None where its size or magic cannot be read."""
    size = table.integer("size", 1, MAX_LAYOUT, required=True)
    at, magic = 0, None
    below = table.sub("magic", required=True)
    if below is not None:
        at = below.integer("at", 0, MAX_LAYOUT, required=True) or 0
        magic = below.parsed("hex", hex_bytes, required=True)
        if magic is not None and (not magic.strip(b"\0") or not magic.strip(b"\xff")):
            below.wrong("hex", "is nothing but 00 or FF, which a blank image holds too")
        below.done()
    total = _sum(table.sub("sum"))
    fields = tuple(one for one in map(_field, table.each("field")) if one is not None)
    table.done()
    if size is None or magic is None:
        return None
    return Layout(name, size, at, magic, total, fields)


def _sum(table: Table | None) -> LayoutSum | None:
    if table is None:
        return None
    kind = table.choice("as", tuple(SUM_WIDTHS), required=True)
    start = table.integer("from", 0, MAX_LAYOUT, required=True)
    end = table.integer("to", 1, MAX_LAYOUT, required=True)
    most = (1 << 8 * SUM_WIDTHS[kind]) - 1 if kind else 0xFFFFFFFF
    total = table.integer("total", 0, most)
    at = table.integer("at", 0, MAX_LAYOUT)
    if ("total" in table) == ("at" in table):
        table.wrong_here("needs either total (what the range comes to) or at (where it is stored)")
    table.done()
    if kind is None or start is None or end is None:
        return None
    return LayoutSum(kind, start, end, total, at)


def _field(table: Table) -> LayoutField | None:
    at = table.integer("at", 0, MAX_LAYOUT, required=True)
    kind = table.choice("as", (*WIDTHS, *LONG), required=True)
    length = table.integer("length", 1, MAX_LAYOUT, required=kind in LONG)
    if kind in WIDTHS:
        if length is not None and length != WIDTHS[kind]:
            table.wrong("length", f"is {length}, but {kind} is {WIDTHS[kind]} long; leave it out")
        length = WIDTHS[kind]
    means = table.parsed("is", _meaning, required=True)
    empty = table.all_parsed("empty", hex_byte) if "empty" in table else (0x00, 0xFF)
    table.done()
    if at is None or kind is None or length is None or means is None:
        return None
    return LayoutField(at, kind, length, means, empty)


def _meaning(text: str) -> str:
    if text in MODE_MEANINGS or text == "version":
        return text
    name = text.removeprefix(IDENTITY) if text.startswith(IDENTITY) else text
    if not NAME.fullmatch(name):
        raise ValueError(f"it must be {', '.join(MODE_MEANINGS)}, identity.NAME, version, or a plain name")
    return text
