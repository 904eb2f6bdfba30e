"""`[[route]]` and its steps of a family file."""

from __future__ import annotations

import re

from catalogue.families.cursor import NAME, Table
from catalogue.families.kinds import BENCHES
from catalogue.families.model import Expects, Route, Step

_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
_ID_MEANS = "1 to 64 letters, digits, . - and _, the first a letter or digit"
_NAME_MEANS = "1 to 32 letters, digits, - and _, the first a letter or digit"
_LINE = re.compile(r"[ -~]+")
_LINE_MEANS = "printable ASCII, as a command line is typed"
MAX_MADE = 1 << 32


def read_route(table: Table) -> Route:
    """One route; the laws judge what it says."""
    name = table.text("id", required=True, form=_ID, means=_ID_MEANS)
    source = table.text("from", required=True)
    target = table.text("to", required=True)
    bench = table.choice("bench", BENCHES, required=True)
    needs = table.texts("needs", required=True)
    may = table.texts("may")
    stepping = None
    below = table.sub("stepping")
    if below is not None:
        stepping = below.text("least", required=True)
        below.done()
    care = table.texts("care")
    unchecked = table.texts("unchecked")
    steps = tuple(_step(one) for one in table.each("step"))
    table.done()
    return Route(name or "", source or "", target or "", bench or "", needs, may, stepping, care, unchecked, steps)


def _step(table: Table) -> Step:
    step = Step(
        name=table.text("name", required=True, form=NAME, means=_NAME_MEANS) or "",
        say=table.text("say", required=True) or "",
        type=table.text("type", form=_LINE, means=_LINE_MEANS),
        makes=table.text("makes"),
        adds=table.texts("adds", form=_LINE, means=_LINE_MEANS),
        learns=table.texts("learns"),
        saves=table.texts("saves"),
        destroys=table.texts("destroys"),
        writes=table.texts("writes"),
        checks=table.texts("checks"),
        compares=table.texts("compares"),
        then=table.choice("then", ("restart",)),
        expects=_expects(table.sub("expects")),
    )
    if step.adds and "type" not in table:
        table.wrong("adds", "stands without type, whose line it would lengthen")
    if "expects" in table and "makes" not in table:
        table.wrong("expects", "speaks of the file the step makes, but the step makes none")
    table.done()
    return step


def _expects(table: Table | None) -> Expects | None:
    if table is None:
        return None
    expects = Expects(
        text=table.text("text"),
        size=table.integer("size", 0, MAX_MADE),
        blank=table.flag("blank"),
        holds=table.texts("holds"),
        same_as=table.text("same-as"),
    )
    if not table.items:
        table.wrong_here("expects nothing")
    table.done()
    return expects
