"""Rules that ask how the card shows itself now: its mode, its board, what it runs.

Decisions on sentences of the contract:
- They speak only of what a saved text told; a mode, revision or version that it does not show is silence.
- A card in the route's `to` mode, or in a declared half-way state, is a note: the route goes on behind that step. What
  is in another mode, or runs less than the stepping version, is stopped.
- A text of several adapters is asked adapter by adapter: one that is wrong is enough, since one kit is for all of them.
- The stepping version is compared with the version of the first written role whose pattern the text holds.
"""

from __future__ import annotations

from collections.abc import Iterator

from catalogue.kits.kit_case import KitCase
from catalogue.kits.rule import Hit, Rule, Weight
from catalogue.shapes.card import CardFacts, Said
from catalogue.shapes.finding import Evidence


def wrong_start(case: KitCase) -> Iterator[Hit]:
    """The card does not stand where the route begins, or runs less than the version to begin with.

    Fine: a card in the `from` mode; one whose text shows no mode.
    Refused: a card in a third mode; firmware 8.99 where the route begins at 9.00.0. A card in the `to` mode or in a
    declared half-way state is noted.
    """
    route = case.asked.route
    for card in case.asked.cards:
        where = _shown_at(card)
        have = card.mode or card.state or ""
        line = Evidence(case.asked.route_line("from"), "from", None, None, route.source_mode, have)
        if card.state is not None:
            state = case.asked.family.states[card.state]
            text = f"The card stands half-way ({card.state}): the route goes on behind step {state.after}."
            yield Hit(text, (*where, line), Weight.NOTE)
        elif card.mode is not None and card.mode == route.target_mode:
            yield Hit(f"The card is in mode {card.mode} already.", (*where, line), Weight.NOTE)
        elif card.mode is not None and card.mode != route.source_mode:
            text = f"The card is in mode {card.mode}; this route begins in mode {route.source_mode}."
            yield Hit(text, (*where, line))
        yield from _stepping(case, card)


def _stepping(case: KitCase, card: CardFacts) -> Iterator[Hit]:
    least = case.asked.route.stepping_least
    role = next((name for name in case.asked.wanted if name in card.versions and _written(case, name)), None)
    if least is None or role is None or card.mode == case.asked.route.target_mode:
        return
    known, said = case.asked.wanted[role].known, card.versions[role]
    if known.order.speaks_of(said.text) and known.compare(said.text, least) < 0:
        line = Evidence(case.asked.route_line("stepping"), "stepping", None, None, f"at least {least}", said.text)
        text = f"The card runs {said.text}; this route begins at {least} or later."
        yield Hit(text, (Evidence(said.place, "version", None, None, f"at least {least}", said.text), line))


def _written(case: KitCase, role: str) -> bool:
    return case.asked.wanted[role].role.written


def _shown_at(card: CardFacts) -> tuple[Evidence, ...]:
    shown = card.shown or (Said(card.mode or card.state or "", card.file, card.line),)
    return tuple(Evidence(one.place, "mode", None, None, "", one.text) for one in shown[:_SHOWN])


_SHOWN = 4


def wrong_revision(case: KitCase) -> Iterator[Hit]:
    """The card's board revision is none that the family allows.

    Fine: an allowed revision in any case of letters; a text that shows none.
    Refused: a card of board issue B where C and D are allowed.
    """
    revision = case.asked.family.card.revision
    if revision is None:
        return
    allowed = {one.casefold() for one in revision.allowed}
    for card in case.asked.cards:
        if card.revision is not None and card.revision.text.casefold() not in allowed:
            want = ", ".join(revision.allowed)
            yield Hit(
                f"The card is of revision {card.revision.text}; this family is for {want}.",
                (
                    Evidence(card.revision.place, "revision", None, None, want, card.revision.text),
                    Evidence(case.asked.line("card.revision", "card"), "allowed", None, None, want, ""),
                ),
            )


RULES: tuple[Rule[KitCase], ...] = (
    Rule(
        "wrong-start", Weight.STOP, wrong_start, "The card does not stand where the route begins",
        "Take the route that begins in the card's mode, or bring the card to the stepping version first.",
        "T UPD.WRONG_PRECURSOR",
    ),
    Rule(
        "wrong-revision", Weight.STOP, wrong_revision, "A board that the family is not for",
        "Look for the family of this board; its maker's papers say which pieces it takes.", "R SEC.COMPATIBLE",
    ),
)  # fmt: skip
