"""The laws of family-file.md, proved whenever a file is loaded: one table, each law one function with its manual."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

from catalogue.families import laws_effects, laws_facts, laws_lines, laws_names
from catalogue.families.law import Broken, Told
from catalogue.families.model import Family, Route
from catalogue.families.where import place
from catalogue.shapes.results import FileProblem

FAMILY_LAWS: tuple[Callable[[Family], Told], ...] = (*laws_names.FAMILY_LAWS, *laws_facts.FAMILY_LAWS)
"""Laws that see a whole family."""
ROUTE_LAWS: tuple[Callable[[Family, int, Route], Told], ...] = (
    *laws_names.ROUTE_LAWS,
    *laws_effects.ROUTE_LAWS,
    *laws_lines.ROUTE_LAWS,
)
"""Laws that see one route, with its number in the file."""

_PART = re.compile(r"(?:route|release|withdrawn|key)\[\d+\]|(?:mode|state|identity|role|layout)\.[^.\[]+|[^.\[]*")


def broken(family: Family, dirty: Iterable[str] = ()) -> list[FileProblem]:
    """Every broken law, with file and line.

    `dirty` are the parts of the file ("role.writer", "route[0]") that have errors of their own; what would only follow
    from those is not told.
    """
    marred = tuple(dirty)
    told: list[Broken] = []
    for family_law in FAMILY_LAWS:
        told += family_law(family)
    for number, route in enumerate(family.routes):
        for route_law in ROUTE_LAWS:
            told += route_law(family, number, route)
    return [FileProblem(*place(family, one.path), one.text) for one in told if not _follows(one, marred)]


def _follows(one: Broken, marred: tuple[str, ...]) -> bool:
    """Whether a part that this law relies on has an error of its own."""
    found = _PART.match(one.path)
    parts = (found.group() if found else "", *one.relies)
    return any(_within(mark, part) or _within(part, mark) for mark in marred for part in parts)


def _within(inner: str, outer: str) -> bool:
    """Whether a part is another, or lies in it: "role.writer" in "role", "route[0]" in "route"."""
    return inner == outer or bool(outer and inner.startswith((f"{outer}.", f"{outer}[")))
