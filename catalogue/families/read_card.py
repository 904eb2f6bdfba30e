"""The parts of a family file that describe the card: [card], modes, states, the listing, identities."""

from __future__ import annotations

from catalogue.families.cursor import Table
from catalogue.families.model import Card, Identity, Listing, Mode, Revision, State
from catalogue.families.values import block_pattern, hex24, pci_id, value_pattern

IDENTITY_KINDS = ("sas-address", "mac", "text")
TYPED = ("no-separators", "upper", "lower", "strip-zeros")
MAX_FLASH = 1 << 32


def read_card(table: Table | None) -> Card:
    """`[card]`: controllers, flash (bytes), revision."""
    if table is None:
        return Card()
    controllers = table.integer("controllers", 1, 16)
    flash = table.integer("flash", 1, MAX_FLASH)
    revision = None
    below = table.sub("revision")
    if below is not None:
        find = below.parsed("find", value_pattern, required=True)
        allowed = below.texts("allowed", required=True, least=1)
        below.done()
        revision = Revision(find, allowed) if find else None
    table.done()
    return Card(controllers or 1, flash, revision)


def read_mode(name: str, table: Table) -> Mode:
    """`[mode.NAME]`: ids, class."""
    ids = table.all_parsed("ids", pci_id, required=True, least=1)
    class_code = table.parsed("class", hex24)
    table.done()
    return Mode(name, ids, class_code)


def read_state(name: str, table: Table) -> State:
    """`[state.NAME]`: ids, after."""
    ids = table.all_parsed("ids", pci_id, required=True, least=1)
    after = table.text("after", required=True)
    table.done()
    return State(name, ids, after or "")


def read_listing(table: Table | None) -> Listing | None:
    """`[listing]`: block, or columns = true."""
    if table is None:
        return None
    block = table.parsed("block", block_pattern)
    columns = table.flag("columns") or False
    if ("block" in table) == columns:
        table.wrong_here("needs either block, or columns = true")
    table.done()
    return Listing(block, columns)


def read_identity(name: str, table: Table) -> Identity:
    """`[identity.NAME]`: as, ouis, span, find or column, typed."""
    kind = table.choice("as", IDENTITY_KINDS, required=True)
    ouis = table.all_parsed("ouis", hex24)
    span = table.integer("span", 1, 256)
    find = table.parsed("find", value_pattern)
    column = table.text("column")
    typed = table.choices("typed", TYPED)
    if "find" in table and "column" in table:
        table.wrong("column", "stands beside find; a value is read by one of them")
    if {"upper", "lower"} <= set(typed):
        table.wrong("typed", "asks for upper and for lower")
    if kind == "text":
        for key in ("ouis", "span"):
            if key in table:
                table.wrong(key, "belongs to addresses, not to a text")
    table.done()
    return Identity(name, kind or "text", ouis, span or 1, find, column, typed)
