"""Which families a card belongs to, by the IDs it shows: the way in from a card on the bench to its family."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from catalogue.families.model import Family, IdPattern
from catalogue.families.shown import ShownCard
from catalogue.shapes.results import FamilyMatch


@dataclass(frozen=True, slots=True)
class _Hit:
    """One mode or state of a family that answers. `exact`: its subsystem was asked for and shown."""

    family: Family
    name: str
    exact: bool
    why: str


def families_for(
    shown: Iterable[ShownCard], families: Mapping[str, Family] | Iterable[Family]
) -> tuple[FamilyMatch, ...]:
    """The families that answer to the shown cards, each with the mode (or half-way state) that the card is in.

    A variant answers only to its subsystems; where one does, the family it stands on does not answer for that card.
    What was not shown, and a family that is not settled, is said in `why`. Settled families come first, then by id.
    """
    known = tuple(families.values() if isinstance(families, Mapping) else families)
    out: dict[tuple[str, str], FamilyMatch] = {}
    for card in shown:
        hits = [hit for family in known for hit in _hits(card, family)]
        replaced = {hit.family.extends for hit in hits if hit.exact and hit.family.subsystems}
        for hit in sorted(hits, key=lambda one: (not one.family.settled, not one.exact, one.family.id)):
            if hit.family.id not in replaced:
                match = FamilyMatch(hit.family.id, hit.family.title, hit.name, hit.why)
                out.setdefault((match.id, match.mode), match)
    return tuple(out.values())


def _hits(card: ShownCard, family: Family) -> Iterable[_Hit]:
    sub = None if card.subvendor is None or card.subdevice is None else (card.subvendor, card.subdevice)
    if sub is not None and family.subsystems and sub not in family.subsystems:
        return
    answers = [(mode.name, mode.ids, f"mode {mode.name}") for mode in family.modes.values()]
    answers += [
        (state.name, state.ids, f"a card half-way, after step {state.after}") for state in family.states.values()
    ]
    for name, ids, what in answers:
        found = [one for one in ids if _answers(one, card, sub)]
        if found:
            asks = bool(family.subsystems) or all(one.subvendor is not None for one in found)
            why = f"shows {card.vendor:04X}:{card.device:04X}, the ID of {what}"
            if asks:
                why += _of_subsystem(sub)
            if not family.settled:
                why += "; this family is not settled"
            yield _Hit(family, name, asks and sub is not None, why)


def _answers(pattern: IdPattern, card: ShownCard, sub: tuple[int, int] | None) -> bool:
    """Whether a card's IDs are those of a pattern; a subsystem that was not shown speaks against none."""
    if (pattern.vendor, pattern.device) != (card.vendor, card.device):
        return False
    return pattern.subvendor is None or sub is None or sub == (pattern.subvendor, pattern.subdevice)


def _of_subsystem(sub: tuple[int, int] | None) -> str:
    if sub is None:
        return "; its subsystem was not shown, and this family is for certain subsystems only"
    return f" with subsystem {sub[0]:04X}:{sub[1]:04X}"
