"""Laws of names: what one part of a family file says of another exists, and no name means two things."""

from __future__ import annotations

from collections.abc import Iterable

from catalogue.families.cursor import nearest, one_of
from catalogue.families.law import EEPROM, FLASH, MAKES, MODE, SLOT, Broken, Told, step_path
from catalogue.families.model import ANY_MODE, Family, Role, Route
from catalogue.families.read_layouts import IDENTITY
from catalogue.families.read_releases import OWN_KEYS
from catalogue.families.toml_lines import dotted

EFFECT_KEYS = ("learns", "saves", "destroys", "writes", "checks", "compares")


def _or_nothing(names: Iterable[str]) -> str:
    found = tuple(names)
    return one_of(found) if found else "none"


def names_are_distinct(family: Family) -> Told:
    """Names of roles, identities, `slot` and `makes` are distinct, and no identity is called like an effect.

    Fine: role `writer`, identity `sas`. Refused: identity `slot`, a role and an identity both called `serial`, a role
    called `date`, which a release could not list.
    """
    for name in family.identities:
        if name in {SLOT, MAKES, EEPROM, FLASH, MODE}:
            yield Broken(f"identity.{name}", f"an identity cannot be called {name}; the name has a meaning of its own")
    for name in family.roles:
        at = f"role.{name}"
        if name in {SLOT, MAKES, *OWN_KEYS}:
            yield Broken(at, f"a role cannot be called {name}; the name has a meaning of its own")
        if name in family.identities:
            yield Broken(at, f"{name} is the name of a role and of an identity", ("identity",))


def criteria_are_there(family: Family) -> Told:
    """What decides for a role is given in that role, and a written role has something to decide by.

    Fine: `decide = ["has"], has = {…}`. Refused: `decide = ["ids"]` without `ids`, a written role without `decide`.
    """
    for role in family.roles.values():
        given = {"hash": True, "ids": role.ids, "has": role.has, "layout": role.layout}
        for criterion in role.decide:
            if not given[criterion]:
                yield Broken(
                    f"role.{role.name}.decide",
                    f"role {role.name} is decided by {criterion}, but has no {criterion}",
                )
        if role.written and not role.decide:
            text = f"role {role.name} is written to the card, but nothing decides whether a piece fits"
            yield Broken(f"role.{role.name}", text)


def roles_name_known_things(family: Family) -> Told:
    """A role's `has` names modes, and its `layout` a layout.

    Fine: `has = { raid = "…" }` with a mode raid. Refused: `layout = "biterne"`.
    """
    for role in family.roles.values():
        for mode in role.has:
            if mode != ANY_MODE and mode not in family.modes:
                yield Broken(
                    dotted(("role", role.name, "has", mode)),
                    f"role {role.name}: has names the mode {mode!r}; there is {_or_nothing(family.modes)}",
                    ("mode",),
                )
        if role.layout is not None and role.layout not in family.layouts:
            yield Broken(
                f"role.{role.name}.layout",
                f"role {role.name} names the layout {role.layout!r}; there is {_or_nothing(family.layouts)}",
                ("layout",),
            )


def versions_have_an_order(family: Family) -> Told:
    """Where a role has a `lowest` version, or a release a `from` or `to` for it, an order of versions is given.

    Where versions are only told apart, `numeric` is taken. Fine: `order = "numeric"` at the top or in the role.
    Refused: `lowest = "9.00"` and no order anywhere.
    """
    if "order" in family.lines or "order" in family.inherited:
        return
    for role in family.roles.values():
        if role.order is None and _compared(family, role):
            at = f"role.{role.name}.lowest" if role.lowest else f"role.{role.name}"
            yield Broken(at, f"versions of role {role.name} are compared, but no order of versions is given", ("",))


def _compared(family: Family, role: Role) -> bool:
    claims = [release.claims[role.name] for release in family.releases if role.name in release.claims]
    return bool(role.lowest or any(one.least or one.most for one in claims))


def identities_can_be_read(family: Family) -> Told:
    """An identity with a `column` needs a listing by columns.

    Fine: `find = "…"`. Refused: `column = "Quay address"` under `[listing] block = "…"`.
    """
    for one in family.identities.values():
        if one.column is not None and not (family.listing and family.listing.columns):
            yield Broken(
                f"identity.{one.name}.column",
                f"identity {one.name} is read from a column, but [listing] does not say columns = true",
                ("listing",),
            )


def layouts_name_known_identities(family: Family) -> Told:
    """A layout's `identity.NAME` names an identity.

    Fine: `is = "identity.sas"` with `[identity.sas]`. Refused: `is = "identity.sass"`.
    """
    for layout in family.layouts.values():
        for index, field in enumerate(layout.fields):
            name = field.means.removeprefix(IDENTITY)
            if field.means.startswith(IDENTITY) and name not in family.identities:
                yield Broken(
                    f"layout.{layout.name}.field[{index}].is",
                    f"layout {layout.name} has a field for the identity {name!r}{nearest(name, family.identities)}; "
                    f"there is {_or_nothing(family.identities)}",
                    ("identity",),
                )


def releases_name_known_roles(family: Family) -> Told:
    """Releases and withdrawals name roles, and no two releases have one name.

    Fine: `firmware = { version = "…" }`. Refused: `firmwear = { … }`.
    """
    names: set[str] = set()
    for number, release in enumerate(family.releases):
        if release.name in names:
            yield Broken(f"release[{number}].name", f"two releases are called {release.name!r}")
        names.add(release.name)
        for role in release.claims:
            if role not in family.roles:
                yield Broken(
                    dotted(("release", number, role)),
                    f"release {release.name} lists {role!r}, which is no role{nearest(role, family.roles)}",
                    ("role",),
                )
    for number, one in enumerate(family.withdrawn):
        if one.role not in family.roles:
            yield Broken(
                f"withdrawn[{number}].role",
                f"{one.role!r} is no role{nearest(one.role, family.roles)}",
                ("role",),
            )


def states_name_known_steps(family: Family) -> Told:
    """Each state's `after` is the name of a step.

    Fine: `after = "scour"` where a route has a step of that name. Refused: `after = "scower"`.
    """
    names = {step.name for route in family.routes for step in route.steps}
    for state in family.states.values():
        if state.after not in names:
            yield Broken(
                f"state.{state.name}.after",
                f"state {state.name} comes after {state.after!r}, which is no step{nearest(state.after, names)}",
                ("route",),
            )


def route_names_known_things(family: Family, number: int, route: Route) -> Told:
    """A route goes from mode to mode, and its `needs` and `may` are roles, each in one of them only.

    Fine: `needs = ["firmware"], may = ["legacy-boot-rom"]`. Refused: `to = "passs"`, one role in both.
    """
    at = f"route[{number}]"
    for key, mode in (("from", route.source_mode), ("to", route.target_mode)):
        if mode not in family.modes:
            yield Broken(
                f"{at}.{key}", f"route {route.id}: {mode!r} is no mode; there is {_or_nothing(family.modes)}", ("mode",)
            )
    for key, names in (("needs", route.needs), ("may", route.may)):
        for index, name in enumerate(names):
            if name not in family.roles:
                yield Broken(
                    f"{at}.{key}[{index}]",
                    f"route {route.id} {key} {name!r}, which is no role{nearest(name, family.roles)}",
                    ("role",),
                )
    for index, name in enumerate(route.may):
        if name in route.needs:
            yield Broken(f"{at}.may[{index}]", f"route {route.id} needs {name} and may have it; leave one out")
    if route.id in {one.id for one in family.routes[:number]}:
        yield Broken(f"{at}.id", f"two routes are called {route.id}")


def steps_name_known_effects(family: Family, number: int, route: Route) -> Told:
    """Steps of a route have distinct names, and effects name eeprom, flash, mode, slot or an identity.

    `unchecked` names what is written: eeprom, flash, mode or an identity. Fine: `learns = ["slot", "sas"]`. Refused:
    `writes = ["flsh"]`, two steps called `list`.
    """
    effects = (EEPROM, FLASH, MODE, SLOT, *family.identities)
    names: set[str] = set()
    for index, step in enumerate(route.steps):
        if step.name in names:
            yield Broken(step_path(number, index, "name"), f"two steps of route {route.id} are called {step.name}")
        names.add(step.name)
        for key in EFFECT_KEYS:
            for place, name in enumerate(getattr(step, key)):
                if name not in effects:
                    yield Broken(
                        step_path(number, index, f"{key}[{place}]"),
                        f"step {step.name} {key} {name!r}; it must be {one_of(effects)}{nearest(name, effects)}",
                        ("identity",),
                    )
    for index, name in enumerate(route.unchecked):
        if name not in effects:
            yield Broken(
                f"route[{number}].unchecked[{index}]",
                f"route {route.id} leaves {name!r} unchecked; it must be {one_of(effects)}{nearest(name, effects)}",
                ("identity",),
            )


FAMILY_LAWS = (
    names_are_distinct,
    criteria_are_there,
    roles_name_known_things,
    versions_have_an_order,
    identities_can_be_read,
    layouts_name_known_identities,
    releases_name_known_roles,
    states_name_known_steps,
)
ROUTE_LAWS = (route_names_known_things, steps_name_known_effects)
