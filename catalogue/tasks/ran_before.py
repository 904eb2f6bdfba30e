"""What the after-checks of cards say for pieces of a kit: for its family, route, mode and board only."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from catalogue.cards.after_check import board_of, steps_of
from catalogue.families.model import Family, Route
from catalogue.shapes.card import CardFacts
from catalogue.shapes.facts import RanFact, fact_id
from catalogue.shapes.piece import Vouch
from catalogue.store import Store, facts, recorded

UNTOLD = ("", "")
"""The board of a kit that is told of no card, and of a listing that shows none."""


@dataclass(frozen=True, slots=True)
class RanBefore:
    """Vouches by role and SHA-256; and whether a card of the family has compared well by this very route."""

    ran: Mapping[str, Mapping[str, tuple[Vouch, ...]]] = field(default_factory=dict)
    route_ran: bool = False


def of_kit(store: Store, family: Family, route: Route, cards: Sequence[CardFacts]) -> RanBefore:
    """What is recorded for this kit; `cards` are those that it is told of."""
    with store.reading() as connection:
        known = facts.rans(connection, family.id)
        elsewhere = recorded.origins(connection) if known else {}
    return told(known, elsewhere, route, cards)


def told(
    known: Iterable[RanFact], elsewhere: Mapping[str, tuple[str, str]], route: Route, cards: Sequence[CardFacts]
) -> RanBefore:
    """The same, from the facts; `elsewhere` gives the bench of those from other benches, and who took them in."""
    boards = {board_of(one) for one in cards} or {UNTOLD}
    steps = steps_of(route)
    found: dict[str, dict[str, tuple[Vouch, ...]]] = {}
    route_ran = False
    for one in known:
        route_ran = route_ran or (one.route, one.steps) == (route.id, steps)
        if one.mode != route.target_mode or boards != {(one.subsystem, one.revision.casefold())}:
            continue
        by = f"a card that compared well{recorded.where_from(elsewhere, fact_id(one), one.by)}"
        mine = found.setdefault(one.role, {})
        place = f"card {one.card}, kit {one.kit[:12]}, route {one.route}"
        mine[one.sha256] = (*mine.get(one.sha256, ()), Vouch("ran", by, place, "", one.at))
    return RanBefore(found, route_ran)
