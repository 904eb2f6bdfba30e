"""Laws of what steps destroy, write, check and learn (family-file.md, "Laws"). Each sees one route."""

from __future__ import annotations

from catalogue.families.law import (
    EEPROM,
    MODE,
    SLOT,
    STORES,
    Broken,
    Told,
    changes,
    destroyed,
    held,
    kept,
    listed,
    step_path,
)
from catalogue.families.model import Family, Route, Step
from catalogue.families.templates import placeholders

_HELD = ("layout", "identity")


def kept_before_destroyed(family: Family, number: int, route: Route) -> Told:
    """All that a step destroys was learned or saved by an earlier step.

    An EEPROM with identity fields counts as destroying those, and a saved one as saving them. The contents of EEPROM
    and flash can only be saved. Fine: `saves = ["flash"]`, later `destroys = ["flash"]`. Refused: `destroys = ["sas"]`
    in the first step.
    """
    safe: set[str] = set()
    for index, step in enumerate(route.steps):
        for name, how in destroyed(family, step).items():
            if name not in safe:
                yield Broken(
                    step_path(number, index, "destroys"),
                    f"{how}, but no earlier step {'saves' if name in STORES else 'learns or saves'} it",
                    _HELD,
                )
        safe |= kept(family, step)


def written_after_destroyed(family: Family, number: int, route: Route) -> Told:
    """All that a step destroys is written by that step or a later one; a slot is learned again instead.

    Fine: a step that destroys and writes the EEPROM, and a later one that writes the address the EEPROM held. Refused:
    a flash that is scoured and never loaded.
    """
    for index, step in enumerate(route.steps):
        for name, how in destroyed(family, step).items():
            later = route.steps[index:]
            if not any(name in (one.learns if name == SLOT else one.writes) for one in later):
                yield Broken(
                    step_path(number, index, "destroys"),
                    f"{how}, but neither it nor a later step {'learns' if name == SLOT else 'writes'} it again",
                    _HELD,
                )


def said_to_be_destroyed(family: Family, number: int, route: Route) -> Told:
    """In a route that destroys or saves, whatever is written over was said to be destroyed at or before.

    Else the bench would not know that the step needs its locks. A route that neither saves the thing nor destroys
    anything may add to it. Fine: `destroys = ["eeprom"], writes = ["eeprom"]`. Refused: the EEPROM is saved, the flash
    is destroyed and written, and the EEPROM is written without `destroys`.
    """
    gone: set[str] = set()
    any_destroys = any(step.destroys for step in route.steps)
    saved = {name for step in route.steps for name in step.saves}
    for index, step in enumerate(route.steps):
        gone |= set(destroyed(family, step))
        for name in step.writes:
            watched = name in STORES or name in family.identities
            if watched and name not in gone and (any_destroys or name in saved):
                yield Broken(
                    step_path(number, index, "writes"),
                    f"step {step.name} writes {name}, but neither it nor an earlier step says that it destroys what "
                    f"was there; add destroys = [\"{name}\"] where that happens",
                    _HELD,
                )


def checked_after_written(family: Family, number: int, route: Route) -> Told:
    """Every write to EEPROM or flash is checked before any restart or further destruction, or stands in `unchecked`.

    Fine: the next step reads the EEPROM back and `checks` it. Refused: write, restart, check; or no check at all.
    """
    for index, step in enumerate(route.steps):
        for name in STORES:
            if name in step.writes and name not in route.unchecked:
                why = _unchecked(family, route.steps[index:], name)
                if why:
                    yield Broken(
                        step_path(number, index, "writes"),
                        f"step {step.name} writes {name}, and {why}; check it before, or name it in unchecked",
                        _HELD,
                    )


def _unchecked(family: Family, steps: tuple[Step, ...], name: str) -> str:
    """Why what the first of `steps` writes is not checked in time; "" where it is."""
    for index, step in enumerate(steps):
        if index and destroyed(family, step):
            return f"step {step.name} destroys {listed(list(step.destroys))} before it was checked"
        if name in step.checks:
            return ""
        if step.then:
            return f"step {step.name} restarts before it was checked"
    return "no step checks it"


def slot_learned_again(family: Family, number: int, route: Route) -> Told:
    """A slot is learned again after every restart, before `{slot}` is typed.

    Fine: restart, list (`learns = ["slot"]`), load `{slot}`. Refused: restart, load `{slot}`.
    """
    restarted = ""
    known = False
    for index, step in enumerate(route.steps):
        if known and restarted:
            for key, line in (("type", step.type or ""), *(("adds", one) for one in step.adds)):
                if SLOT in placeholders(line):
                    yield Broken(
                        step_path(number, index, key),
                        f"step {step.name} types {{slot}}, but step {restarted} restarted and no step has learned the "
                        f"slot since; list again first",
                    )
        if SLOT in step.learns:
            known, restarted = True, ""
        if step.then:
            restarted = step.name


def compared_last(family: Family, number: int, route: Route) -> Told:
    """Mode and identity are compared last, once nothing is destroyed, written or restarted any more.

    Asked of a route that destroys or writes; the identities are those it learned, destroyed or wrote. Fine: a last
    step `compares = ["mode", "sas", "serial"]`. Refused: no such step, one that leaves the serial out, or one before
    the last restart.
    """
    if not any(changes(step) for step in route.steps):
        return
    last = max(index for index, step in enumerate(route.steps) if changes(step) or step.then)
    touched = [name for name in family.identities if any(_touches(family, step, name) for step in route.steps)]
    compared = {name for step in route.steps[last + 1 :] for name in step.compares}
    missing = [name for name in (MODE, *touched) if name not in compared]
    if missing:
        at = max((n for n, step in enumerate(route.steps) if step.compares), default=len(route.steps) - 1)
        key = "compares" if route.steps[at].compares else ""
        yield Broken(
            step_path(number, at, key),
            f"{listed(missing)} {'is' if len(missing) == 1 else 'are'} not compared after step "
            f"{route.steps[last].name}, the last that destroys, writes or restarts",
            _HELD,
        )


def _touches(family: Family, step: Step, name: str) -> bool:
    return name in step.learns or name in step.writes or name in step.destroys or (
        EEPROM in step.destroys and name in held(family)
    )


ROUTE_LAWS = (
    kept_before_destroyed,
    written_after_destroyed,
    said_to_be_destroyed,
    checked_after_written,
    slot_learned_again,
    compared_last,
)
