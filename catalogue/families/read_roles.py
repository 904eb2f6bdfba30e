"""`[role.NAME]` of a family file."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from catalogue.families.cursor import Table, nearest, quoted
from catalogue.families.kinds import ARCHIVE, BENCHES, KINDS
from catalogue.families.limits import MAX_LIST
from catalogue.families.model import ANY_BENCH, ANY_MODE, IdPattern, Role
from catalogue.families.node import Node
from catalogue.families.values import has_text, pci_id, version_pattern

CRITERIA = ("hash", "ids", "has", "layout")
"""What can decide that a piece fits; kind and size never say yes (family-file.md)."""
ORDERS = ("numeric", "debian", "semver", "date", "listed")
MAX_PIECE = 1 << 32
FILE_NAME = re.compile(r"(?![. ])[^/\\:*?\"<>|\x00-\x1f]{1,64}(?<![. ])")
"""A name of one file, on any system."""


def read_role(name: str, table: Table) -> Role:
    """One role; which criteria, benches and modes it may name is judged by the laws."""
    role = Role(
        name=name,
        written=table.flag("written") or False,
        decide=table.choices("decide", CRITERIA),
        kind=_kind(table),
        ids=_ids(table),
        has=_has(table),
        layout=table.text("layout"),
        size=_size(table),
        version=table.parsed("version", version_pattern),
        lowest=table.text("lowest"),
        order=table.choice("order", ORDERS),
        companions=_companions(table),
    )
    table.done()
    return role


def _by_bench(table: Table, key: str, read: Callable[[Node, str], object]) -> Mapping[str, object]:
    """A value for every bench, or a table of one each."""
    node = table.get(key)
    if node is None:
        return {}
    if node.table is None:
        one = read(node, table.name_of(key))
        return {} if one is None else {ANY_BENCH: one}
    below = Table(node, table.name_of(key), table.report)
    out = {}
    for bench in BENCHES:
        if bench in below:
            one = read(below.items[bench], below.name_of(bench))
            if one is not None:
                out[bench] = one
        below.get(bench)
    if not below.items:
        below.wrong_here("is empty")
    below.done()
    return out


def _kind(table: Table) -> Mapping[str, str]:
    def read(node: Node, name: str) -> str | None:
        value = table.one_text(node, name)
        if value is None or value in KINDS:
            return value
        if value.startswith(ARCHIVE):
            table.report.add(node, f"{name} is {quoted(value)}: an archive fills no role, its members do")
        else:
            table.report.add(node, f"{name} is {quoted(value)}, which is no kind{nearest(value, KINDS)}")
        return None

    return {bench: str(one) for bench, one in _by_bench(table, "kind", read).items()}


def _companions(table: Table) -> Mapping[str, tuple[str, ...]]:
    def read(node: Node, name: str) -> tuple[str, ...] | None:
        if node.list is None:
            table.report.add(node, f"{name} must be a list of file names in square brackets")
            return None
        if len(node.list) > MAX_LIST:
            table.report.add(node, f"{name} has more than {MAX_LIST} entries")
            return None
        names = [table.one_text(one, name, FILE_NAME, "the name of one file, without a folder") for one in node.list]
        folded = [one.casefold() for one in names if one]
        if len(set(folded)) < len(folded):
            table.report.add(node, f"{name} holds one name twice")
        return tuple(one for one in names if one)

    return {bench: one for bench, one in _by_bench(table, "with", read).items() if isinstance(one, tuple)}


def _ids(table: Table) -> str | tuple[IdPattern, ...] | None:
    node = table.get("ids")
    if node is None:
        return None
    if node.list is not None:
        return table.all_parsed("ids", pci_id, least=1) or None
    return table.choice("ids", ("from", "to"))


def _has(table: Table) -> Mapping[str, str]:
    node = table.get("has")
    if node is None:
        return {}
    if node.table is None:
        one = table.parsed("has", has_text)
        return {ANY_MODE: one} if one else {}
    if not node.table:
        table.wrong("has", "is empty")
    out = {}
    for mode, below in node.table.items():
        one = table.one_parsed(below, f"{table.name_of('has')}.{mode}", has_text)
        if one:
            out[mode] = one
    return out


def _size(table: Table) -> tuple[int, int] | None:
    node = table.get("size")
    if node is None:
        return None
    if node.list is None:
        one = table.integer("size", 1, MAX_PIECE)
        return None if one is None else (one, one)
    if len(node.list) != 2:
        table.wrong("size", "must be one number, or [least, most]")
        return None
    name = table.name_of("size")
    least, most = (table.one_integer(one, name, 0, MAX_PIECE) for one in node.list)
    if least is None or most is None:
        return None
    if least > most:
        table.wrong("size", "has its least above its most")
        return None
    return least, most
