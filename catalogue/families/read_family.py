"""A family file's values as a Family: the whole schema of family-file.md, every error told, none guessed away."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from typing import TypeVar

from catalogue.families.cursor import Table, quoted
from catalogue.families.model import Card, Drafted, Family
from catalogue.families.node import Node, Report, named_nodes
from catalogue.families.read_card import read_card, read_identity, read_listing, read_mode, read_state
from catalogue.families.read_layouts import read_layout
from catalogue.families.read_releases import read_key, read_release, read_withdrawn
from catalogue.families.read_roles import ORDERS, read_role
from catalogue.families.read_routes import read_route
from catalogue.families.source import Source
from catalogue.families.values import sha256, subsystem

SCHEMA = 1
FAMILY_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
FAMILY_ID_MEANS = "1 to 64 letters, digits, . - and _, the first a letter or digit"
T = TypeVar("T")


def read_family(source: Source, root: Node, base: tuple[str, ...], report: Report) -> Family | None:
    """The family of one file (`root` is its values, a variant's already laid over its base's).

    None where no id can be read. Problems go to `report`; what is wrong is left out of the family.
    """
    top = Table(root, "", report)
    schema = top.integer("schema", 0, 1 << 31, required=True)
    if schema is not None and schema != SCHEMA:
        top.wrong("schema", f"is {schema}; this program reads schema {SCHEMA}")
    name = top.text("id", required=True, form=FAMILY_ID, means=FAMILY_ID_MEANS)
    title = top.text("title", required=True)
    as_of = top.day("as_of", required=True)
    order = top.choice("order", ORDERS)
    _still_asked(top)
    drafted = _drafted(top.sub("drafted"))
    extends = top.text("extends", form=FAMILY_ID, means=FAMILY_ID_MEANS)
    subsystems = top.all_parsed("subsystems", subsystem)
    if "extends" in top and not subsystems:
        top.wrong("extends", "makes this a variant; a variant names its subsystems = [\"SSSS:ssss\"]")
    report.part = "card"
    card = read_card(top.sub("card"))
    report.part = "listing"
    listing = read_listing(top.sub("listing"))
    modes = _named(top, "mode", read_mode)
    if not modes:
        report.part = "mode"
        top.wrong_here("names no mode; [mode.NAME] says which IDs the card shows")
    states = _named(top, "state", read_state)
    identities = _named(top, "identity", read_identity)
    roles = _named(top, "role", read_role)
    layouts = _named(top, "layout", read_layout)
    keys = _each(top, "key", read_key)
    releases = _each(top, "release", read_release)
    withdrawn = _each(top, "withdrawn", read_withdrawn)
    routes = _each(top, "route", read_route)
    report.part = ""
    top.done()
    if name is None:
        return None
    own = named_nodes(root)
    return Family(
        id=name,
        title=title or name,
        file=source.file,
        sha256=source.sha256,
        as_of=as_of or date(1980, 1, 1),
        order=order or "numeric",
        card=card,
        extends=extends,
        subsystems=subsystems,
        modes=modes,
        states=states,
        listing=listing,
        identities=identities,
        roles=roles,
        layouts={key: one for key, one in layouts.items() if one is not None},
        keys=tuple(one for one in keys if one is not None),
        releases=tuple(releases),
        withdrawn=tuple(withdrawn),
        routes=tuple(routes),
        lines={path: node.line for path, node in own.items() if node.file == source.file},
        inherited={path: (node.file, node.line) for path, node in own.items() if node.file != source.file},
        base=base,
        drafted=drafted,
    )


def _still_asked(top: Table) -> None:
    """The open questions of a draft (`asks`): with one left, the file does not settle."""
    for node in top.list_of("asks"):
        key = top.one_text(node, "asks")
        if key is not None:
            top.report.add(node, f"asks: {quoted(key)} is still open; answer it where it stands, then take it out here")


def _drafted(table: Table | None) -> Drafted | None:
    """What a draft was made from (`drafted`): a folder, or pieces."""
    if table is None:
        return None
    folder = table.text("folder")
    pieces = table.all_parsed("pieces", sha256)
    if ("folder" in table) == ("pieces" in table):
        table.wrong_here("needs either folder, or pieces")
    table.done()
    return Drafted(folder or "", pieces)


def bare_family(source: Source) -> Family | None:
    """A family of which no more than the id could be read, so that it can still be named with what is wrong."""
    if source.id is None or not FAMILY_ID.fullmatch(source.id):
        return None
    return Family(source.id, source.id, source.file, source.sha256, date(1980, 1, 1), "numeric", Card())


def _named(top: Table, key: str, read: Callable[[str, Table], T]) -> dict[str, T]:
    top.report.part = key
    out = {}
    for name, table in top.named(key):
        top.report.part = f"{key}.{name}"
        out[name] = read(name, table)
    return out


def _each(top: Table, key: str, read: Callable[[Table], T]) -> list[T]:
    top.report.part = key
    out = []
    for number, table in enumerate(top.each(key)):
        top.report.part = f"{key}[{number}]"
        out.append(read(table))
    return out


def same_id(one: Source, other: Source) -> str:
    """What is said of two differing files with one id."""
    return f"the id {quoted(one.id)} stands in {other.file} too, with other content; neither counts until one is gone"
