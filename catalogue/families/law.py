"""What a broken law is, and small facts of a family that several laws ask for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from catalogue.families.model import Family, Route, Step
from catalogue.families.read_layouts import IDENTITY

EEPROM, FLASH, MODE, SLOT = "eeprom", "flash", "mode", "slot"
STORES = (EEPROM, FLASH)
"""What a utility writes to and can read back."""
MAKES = "makes"


class Broken(NamedTuple):
    """A broken law: the dotted path it is told at, the sentence, and further parts of the file that it relies on.

    Where one of these parts (or the path's own) has an error of its own, this is not told: it would only follow.
    """

    path: str
    text: str
    relies: tuple[str, ...] = ()


Told = Iterator[Broken]


def step_path(number: int, step: int, key: str = "") -> str:
    """The dotted path of a step, or of one of its keys."""
    return f"route[{number}].step[{step}]" + (f".{key}" if key else "")


def held(family: Family) -> tuple[str, ...]:
    """The identities that an EEPROM of this family holds: those that any of its layouts has a field for."""
    found = {
        field.means.removeprefix(IDENTITY): None
        for layout in family.layouts.values()
        for field in layout.fields
        if field.means.startswith(IDENTITY)
    }
    return tuple(name for name in found if name in family.identities)


def destroyed(family: Family, step: Step) -> dict[str, str]:
    """What a step destroys, each with how that comes about; an EEPROM takes the identities it holds with it."""
    out = {name: f"step {step.name} destroys {name}" for name in step.destroys}
    if EEPROM in out:
        for name in held(family):
            out.setdefault(name, f"step {step.name} destroys the EEPROM, which holds {name}")
    return out


def kept(family: Family, step: Step) -> set[str]:
    """What is safe once a step is done: what it learned and what it saved. Contents are saved, never learned."""
    out = set(step.saves) | (set(step.learns) - set(STORES))
    if EEPROM in step.saves:
        out |= set(held(family))
    return out


def changes(step: Step) -> bool:
    """Whether a step destroys or writes anything."""
    return bool(step.destroys or step.writes)


def listed(names: list[str]) -> str:
    """Names as words: "a, b and c"."""
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last


def roles_of(route: Route) -> tuple[str, ...]:
    """Every role of a route, needed ones first."""
    return (*route.needs, *route.may)
