"""Laws of the lines that are typed and the files that steps make (family-file.md, "Laws"). Each sees one route."""

from __future__ import annotations

from catalogue.families.cursor import one_of
from catalogue.families.kinds import RUNS_ON
from catalogue.families.law import EEPROM, FLASH, MAKES, MODE, SLOT, Broken, Told, listed, roles_of, step_path
from catalogue.families.model import ANY_BENCH, Family, Route, Step
from catalogue.families.short_names import why_not
from catalogue.families.templates import first_word, longest_line, placeholders, stray_braces

MOST_TAIL = 126
"""Characters of a DOS command tail (the PSP's 80h counts them; 127 with the closing CR)."""
MOST_LINE = 127
"""Characters of a line in a DOS batch file."""


def placeholders_resolve(family: Family, number: int, route: Route) -> Told:
    """Every placeholder of a line resolves: a role of the route, `{makes}`, or a value learned by an earlier step.

    Learned values are the slot and identities; `templates.SAFE_VALUE` says which characters one may have before it is
    typed. An optional role (`may`) stands in `adds` only, which is put at the line's end where its piece is in the kit.
    Fine: `{writer} name {slot} {sas}` after a step that learns both. Refused: `{wirter}`, `{sas}` that no step has
    learned, `{makes}` in a step that makes nothing.
    """
    learned: set[str] = set()
    for index, step in enumerate(route.steps):
        for key, line in _lines(step):
            at = step_path(number, index, key)
            if stray_braces(line):
                yield Broken(at, f"step {step.name} has a brace that closes or opens nothing")
            for name in placeholders(line):
                why = _unresolved(family, route, step, name, learned)
                if not why and key == "type" and name in route.may:
                    why = "stands for an optional role; put it in adds, which is left away with its piece"
                if why:
                    yield Broken(at, f"step {step.name}: {{{name}}} {why}", ("role", "identity"))
        for one in step.adds:
            if not any(name in roles_of(route) for name in placeholders(one)):
                yield Broken(
                    step_path(number, index, "adds"),
                    f"step {step.name} adds {one!r}, which names no role's piece",
                    ("role",),
                )
        learned |= set(step.learns)


def _lines(step: Step) -> list[tuple[str, str]]:
    return [("type", step.type or ""), *(("adds", one) for one in step.adds)]


def _unresolved(family: Family, route: Route, step: Step, name: str, learned: set[str]) -> str:
    """Why a placeholder does not resolve, in words that end a sentence; "" where it does."""
    if name == MAKES:
        return "" if step.makes else "stands for the file the step makes, but it makes none"
    if name in roles_of(route):
        return ""
    if name in family.roles:
        return "is a role that the route neither needs nor may have"
    if name == SLOT or name in family.identities:
        return "" if name in learned else "is not learned by an earlier step"
    if name in {EEPROM, FLASH, MODE}:
        return "is an effect, not something that can be typed"
    return "is no role, no identity, and neither {slot} nor {makes}"


def program_is_right(family: Family, number: int, route: Route) -> Told:
    """The role that is a line's first word is the right kind for the route's bench.

    Fine: `{writer} look` on a DOS bench where the role's kind for dos is `dos-program`. Refused: a role without a kind
    there, an `efi-application` on a DOS bench, `{slot}` or `{makes}` as first word.
    """
    wanted = RUNS_ON.get(route.bench)
    if wanted is None:
        return
    for index, step in enumerate(route.steps):
        if not step.type:
            continue
        for name in placeholders(first_word(step.type)):
            at = step_path(number, index, "type")
            role = family.roles.get(name)
            if role is None:
                if name in {MAKES, SLOT} or name in family.identities:
                    yield Broken(at, f"step {step.name} begins with {{{name}}}, which is no program")
                continue
            kind = role.kind.get(route.bench, role.kind.get(ANY_BENCH))
            if kind not in wanted:
                what = f"is {kind}" if kind else f"has no kind for the bench {route.bench}"
                text = f"step {step.name} starts {{{name}}}, but that role {what}; a program there is {one_of(wanted)}"
                yield Broken(at, text, (f"role.{name}",))


def lines_fit(family: Family, number: int, route: Route) -> Told:
    """On a DOS bench a filled line has at most 127 characters, and 126 behind the program's name.

    Counted at its longest: full 8.3 names, every optional piece there. Fine: the example. Refused: a line that names
    ten pieces of twelve characters each.
    """
    if route.bench != "dos":
        return
    for index, step in enumerate(route.steps):
        if not step.type:
            continue
        line, tail = longest_line(family, step)
        if line > MOST_LINE or tail > MOST_TAIL:
            yield Broken(
                step_path(number, index, "type"),
                f"step {step.name}: the filled line can have {line} characters, {tail} of them behind the program's "
                f"name; DOS takes {MOST_LINE} and {MOST_TAIL}",
                ("identity", "layout"),
            )


def made_names_are_short(family: Family, number: int, route: Route) -> Told:
    """The files that a route's steps make have distinct 8.3 names, none of them a device's or taken by the kit.

    Fine: `CARD.TXT`, `OLD.BIN`. Refused: `CARDLISTING.TXT`, `NUL.TXT`, `KIT.JSN`, one name in two steps.
    """
    taken = {
        name.upper(): f"the companion of {role}"
        for role in roles_of(route)
        if role in family.roles
        for bench, names in family.roles[role].companions.items()
        if bench in {ANY_BENCH, route.bench}
        for name in names
    }
    for index, step in enumerate(route.steps):
        if step.makes is None:
            continue
        at = step_path(number, index, MAKES)
        why = why_not(step.makes)
        if why:
            yield Broken(at, f"step {step.name} makes {step.makes!r}, which {why}")
        elif step.makes in taken:
            yield Broken(at, f"step {step.name} makes {step.makes}, which is the name of {taken[step.makes]}")
        taken.setdefault(step.makes.upper(), f"what step {step.name} makes")


def expectations_name_known_things(family: Family, number: int, route: Route) -> Told:
    """`expects` holds identities of the family, and is `same-as` a role of the route.

    Fine: `holds = ["sas"]`. Refused: `same-as = "eprom-image"`.
    """
    for index, step in enumerate(route.steps):
        if step.expects is None:
            continue
        unknown = [name for name in step.expects.holds if name not in family.identities]
        if unknown:
            yield Broken(
                step_path(number, index, "expects.holds"),
                f"step {step.name} expects {listed(unknown)}, which is no identity of this family",
                ("identity",),
            )
        same = step.expects.same_as
        if same is not None and same not in roles_of(route):
            yield Broken(
                step_path(number, index, "expects.same-as"),
                f"step {step.name} expects the file to equal {same!r}, which is no role of this route",
                ("role",),
            )


ROUTE_LAWS = (
    placeholders_resolve,
    program_is_right,
    lines_fit,
    made_names_are_short,
    expectations_name_known_things,
)
