"""The command lines of a route with this kit's names in them, for the run sheet and for the bound on their length."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from catalogue.families.limits import MAX_SLOT
from catalogue.families.model import Family, Step
from catalogue.families.templates import longest_value, placeholders
from catalogue.media.plan import Plan

DOS_LINE = 127
"""Most characters of a line that a DOS prompt or a batch file takes (common practice)."""
DOS_TAIL = 126
"""Most characters behind a program's name: the command tail in the PSP at 80h has a length byte, 126 and a CR."""
_PLACE = re.compile(r"\{([^{}]*)\}")


@dataclass(frozen=True, slots=True)
class Filled:
    """One step's line for this kit. `missing` are roles of the line that the kit left out: then it is not typed.

    `learned` are the placeholders whose values are learned at the bench, in the line's order, each once.
    """

    text: str
    learned: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


def filled(step: Step, family: Family, plan: Plan, blank: Callable[[str], str]) -> Filled | None:
    """The step's line with this kit's names in it; None where the step types nothing.

    `blank(name)` gives what stands for a learned value. Each of `adds` whose piece is in the kit is put at the end.
    A piece that fills two roles is typed once.
    """
    if step.type is None:
        return None
    typed: set[str] = set()
    learned: dict[str, None] = {}
    missing: dict[str, None] = {}
    repeated: list[str] = []

    def word(name: str) -> str:
        if name == "makes":
            return step.makes or ""
        if name not in family.roles:
            learned[name] = None
            return blank(name)
        file = plan.of_role(name)
        if file is None:
            missing[name] = None
            return ""
        if file.name in typed:
            repeated.append(name)
            return ""
        typed.add(file.name)
        return file.name

    parts = [_replaced(step.type, word)]
    for add in step.adds:
        if all(plan.of_role(name) is not None for name in placeholders(add) if name in family.roles):
            fresh = _replaced(add, word)
            if fresh.strip():
                parts.append(fresh.strip())
    line = " ".join(parts)
    if repeated:
        line = " ".join(part for part in line.split(" ") if part)
    if plan.bench == "linux" and line.partition(" ")[0] in typed:
        line = f"./{line}"
    return Filled(line, tuple(learned), tuple(missing))


def longest(step: Step, family: Family, plan: Plan) -> str | None:
    """The step's line with every learned value at its longest, or None where nothing is typed."""

    def most(name: str) -> str:
        identity = family.identities.get(name)
        return "X" * (MAX_SLOT if identity is None else longest_value(identity, family))

    line = filled(step, family, plan, most)
    return None if line is None or line.missing else line.text


def tail(line: str) -> str:
    """What a DOS program is handed of `line`: all behind its name, without redirections."""
    command = line.partition(" ")[2]
    for sign in (">", "<", "|"):
        command = command.partition(sign)[0]
    return f" {command.strip()}" if command.strip() else ""


def _replaced(text: str, word: Callable[[str], str]) -> str:
    return _PLACE.sub(lambda found: word(found.group(1)), text)
