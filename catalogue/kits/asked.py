"""A question made ready for judging: what its family and route want, worked out once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from catalogue.families.model import ANY_BENCH, ANY_MODE, Family, Mode, Role, Route
from catalogue.kits.candidate import Candidate, Question
from catalogue.kits.images import OPTION_ROM
from catalogue.kits.known import Known, know
from catalogue.shapes.card import CardFacts
from catalogue.shapes.host import Host
from catalogue.shapes.kit import Pin, Word
from catalogue.shapes.layout import Layout
from catalogue.shapes.piece import Vouch

Card = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Wanted:
    """What one role wants by this route. `kind` is for the route's bench; `cards` are the IDs wanted by `ids`.

    `near` are the IDs that make a piece near; `others` maps every ID of another mode to that mode's name. `right` is
    the wanted mode's `has` string (or the plain one), `wrong` those of other modes by mode. `class_code` is that of
    the wanted mode. `companions` are the names for the route's bench. `asks_images` is the kind of image that `ids`
    asks, None where it asks all that name a card.
    """

    role: Role
    known: Known
    kind: str | None
    kinds: frozenset[str]
    cards: frozenset[Card]
    near: frozenset[Card]
    others: Mapping[Card, str]
    class_codes: Mapping[Card, int]
    right: str | None
    wrong: Mapping[str, str]
    layout: Layout | None
    companions: tuple[str, ...]
    needed: bool
    place: int
    asks_images: str | None


@dataclass(frozen=True, slots=True)
class Asked:
    """A question made ready.

    `digests` are those of every release's entries; `pins` are by role (more than one for a role is a fault).
    """

    family: Family
    route: Route
    today: date
    mode: Mode | None
    wanted: Mapping[str, Wanted]
    candidates: Mapping[str, Candidate]
    digests: frozenset[str]
    pins: Mapping[str, tuple[Pin, ...]]
    words: tuple[Word, ...]
    ran: Mapping[str, Mapping[str, tuple[Vouch, ...]]]
    route_ran: bool
    host: Host
    cards: tuple[CardFacts, ...]

    def line(self, *paths: str) -> str:
        """The family file and the line of the first of `paths` that it knows, for evidence."""
        number = next((self.family.lines[path] for path in paths if path in self.family.lines), None)
        return self.family.file if number is None else f"{self.family.file}:{number}"

    def release_line(self, name: str, role: str) -> str:
        """Where the release called `name` speaks of `role`."""
        at = next((index for index, one in enumerate(self.family.releases) if one.name == name), 0)
        return self.line(f"release[{at}].{role}", f"release[{at}]")

    def route_line(self, key: str) -> str:
        """Where the route says `key`."""
        at = next((index for index, one in enumerate(self.family.routes) if one.id == self.route.id), 0)
        return self.line(f"route[{at}].{key}", f"route[{at}]")


def ask(question: Question) -> Asked:
    """`question` made ready; candidates by SHA-256, in its order, so that none ranks above another by how it came."""
    family, route = question.family, question.route
    pins: dict[str, tuple[Pin, ...]] = {}
    for pin in question.pins:
        if pin not in pins.get(pin.role, ()):
            pins[pin.role] = (*pins.get(pin.role, ()), pin)
    names = tuple(dict.fromkeys((*route.needs, *route.may)))
    return Asked(
        family=family,
        route=route,
        today=question.today,
        mode=family.modes.get(route.target_mode),
        wanted={name: _wanted(family, route, name, place) for place, name in enumerate(names)},
        candidates={one.sha256: one for one in sorted(question.candidates, key=lambda one: one.sha256)},
        digests=frozenset(
            digest.lower()
            for release in family.releases
            for claim in release.claims.values()
            for digest in claim.sha256
        ),
        pins=pins,
        words=question.words,
        ran=question.ran,
        route_ran=question.route_ran,
        host=question.host,
        cards=question.cards,
    )


def _wanted(family: Family, route: Route, name: str, place: int) -> Wanted:
    role = family.roles.get(name, Role(name))
    modes = {mode.name: frozenset((one.vendor, one.device) for one in mode.ids) for mode in family.modes.values()}
    own = {"from": route.source_mode, "to": route.target_mode}.get(role.ids) if isinstance(role.ids, str) else None
    if isinstance(role.ids, tuple):
        cards = frozenset((one.vendor, one.device) for one in role.ids)
    else:
        cards = modes.get(own or "", frozenset())
    right, wrong = _strings(role, route)
    kind = role.kind.get(route.bench, role.kind.get(ANY_BENCH))
    return Wanted(
        role=role,
        known=know(family, role),
        kind=kind,
        kinds=frozenset(role.kind.values()),
        cards=cards,
        near=cards.union(*modes.values()) if role.ids is not None else frozenset(),
        others={card: mode for mode, ids in sorted(modes.items()) for card in ids if card not in cards},
        class_codes={
            card: mode.class_code
            for mode in family.modes.values()
            for card in modes[mode.name]
            if mode.class_code is not None and card in cards
        },
        right=right,
        wrong=wrong,
        layout=family.layouts.get(role.layout) if role.layout is not None else None,
        companions=role.companions.get(route.bench) or role.companions.get(ANY_BENCH) or (),
        needed=name in route.needs,
        place=place,
        asks_images=kind if kind is not None and kind.startswith(f"{OPTION_ROM}/") else None,
    )


def _strings(role: Role, route: Route) -> tuple[str | None, dict[str, str]]:
    """The string that says yes, and by mode those that say no. A string that two modes share tells neither apart."""
    if ANY_MODE in role.has:
        return role.has[ANY_MODE], {}
    right = role.has.get(route.target_mode)
    return right, {mode: text for mode, text in sorted(role.has.items()) if mode != route.target_mode and text != right}
