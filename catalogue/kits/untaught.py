"""Which rules cannot speak because the family lacks the facts they need.

One row a rule: whether a role leaves it without facts. What a family does not teach cannot be checked; that is said.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from catalogue.kits.asked import Asked, Wanted
from catalogue.kits.criteria import PROGRAMS


@dataclass(frozen=True, slots=True)
class Untaught:
    """A rule that cannot speak of some roles, and what the family would have to say."""

    code: str
    lacks: str
    roles: tuple[str, ...]


def _is_program(wanted: Wanted) -> bool:
    return wanted.kind in PROGRAMS


def _no_versions(_asked: Asked, wanted: Wanted) -> bool:
    return (
        (wanted.role.written or _is_program(wanted)) and wanted.layout is None and not wanted.known.speaks_of_versions
    )


def _no_lowest(_asked: Asked, wanted: Wanted) -> bool:
    return wanted.role.written and wanted.layout is None and wanted.role.lowest is None


def _no_releases(_asked: Asked, wanted: Wanted) -> bool:
    return (wanted.role.written or _is_program(wanted)) and not wanted.known.listing


def _no_bounds(_asked: Asked, wanted: Wanted) -> bool:
    return _is_program(wanted) and wanted.known.bounds(None) is None


def _no_size(asked: Asked, wanted: Wanted) -> bool:
    role = wanted.role
    return role.written and role.size is None and wanted.layout is None and asked.family.card.flash is None


def _no_class(_asked: Asked, wanted: Wanted) -> bool:
    return bool(wanted.cards) and not wanted.class_codes


def _no_mode(_asked: Asked, wanted: Wanted) -> bool:
    """Nothing in the role tells one mode from another."""
    if not wanted.role.written or wanted.role.ids is not None or wanted.wrong:
        return False
    return wanted.layout is None or not any(one.means.startswith("mode.") for one in wanted.layout.fields)


def _no_sum(_asked: Asked, wanted: Wanted) -> bool:
    return wanted.layout is not None and wanted.layout.sum is None


def _no_identity(asked: Asked, wanted: Wanted) -> bool:
    if wanted.layout is None or any(one.means.startswith("identity.") for one in wanted.layout.fields):
        return False
    return not any(one.ouis for one in asked.family.identities.values())


_TABLE: tuple[tuple[str, str, Callable[[Asked, Wanted], bool]], ...] = (
    ("other-mode", "what tells the modes apart", _no_mode),
    ("class-differs", "the mode's class", _no_class),
    ("wrong-size", "sizes or the flash's size", _no_size),
    ("eeprom-sum", "the layout's sum", _no_sum),
    ("foreign-identity", "identity fields or company IDs", _no_identity),
    ("tool-too-old, tool-too-new", "bounds of the program", _no_bounds),
    ("version-unread", "versions", _no_versions),
    ("below-lowest", "the lowest version", _no_lowest),
    ("release-unknown, stale, mixed-release", "releases", _no_releases),
)


def untaught(asked: Asked) -> tuple[Untaught, ...]:
    """The rules that cannot speak, with the roles of the route they are silent on."""
    found: list[Untaught] = []
    for code, lacks, without in _TABLE:
        roles = tuple(name for name, wanted in asked.wanted.items() if without(asked, wanted))
        if roles:
            found.append(Untaught(code, lacks, roles))
    return tuple(found)
