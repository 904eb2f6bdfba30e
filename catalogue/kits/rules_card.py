"""Rules that ask how the card shows itself now: its mode, its board, what it runs.

Decisions on sentences of the contract:
- They speak only of what a saved text told; a mode, revision or version that it does not show is silence.
- A card in the route's `to` mode, or in a declared half-way state, is a note: the route goes on behind that step. What
  is in another mode, or runs less than the stepping version, is stopped.
- A text of several adapters is asked adapter by adapter: one that is wrong is enough, since one kit is for all of them.
- A package speaks of the controller's PCI revision (DSP0267, descriptor 0103h) in the records that name the card; where
  one of them names none, or 00h, or the text shows no revision (a PCI listing leaves 00h out), that is silence.
- The stepping version is compared with the version of the first written role whose pattern the text holds.
"""

from __future__ import annotations

from collections.abc import Iterator

from catalogue.kits.criteria import place_of
from catalogue.kits.kit_case import KitCase
from catalogue.kits.rule import Hit, Rule, Weight
from catalogue.kits.rules_host import PACKAGE, PCI_REVISION, field_at, records_for
from catalogue.shapes.card import CardFacts, Said
from catalogue.shapes.finding import Evidence


def wrong_start(case: KitCase) -> Iterator[Hit]:
    """The card does not stand where the route begins, or runs less than the version to begin with.

    Fine: a card in the `from` mode; one whose text shows no mode.
    Refused: a card in a third mode; firmware 8.99 where the route begins at 9.00.0. A card in the `to` mode or in a
    declared half-way state is noted.
    Looks at: the saved listing, the IDs it shows.
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
    """The card's board revision is none that the family allows, or its PCI revision none that the package is for.

    Fine: an allowed revision in any case of letters; a text that shows none; a package that names no PCI revision.
    Refused: a card of board issue B where C and D are allowed; a controller of PCI revision 03h and a package whose
    records for it all name 05h.
    Looks at: the saved listing, descriptor 0103h of a PLDM package.
    """
    revision = case.asked.family.card.revision
    allowed = {one.casefold() for one in revision.allowed} if revision is not None else set()
    for card in case.asked.cards:
        if revision is not None and card.revision is not None and card.revision.text.casefold() not in allowed:
            want = ", ".join(revision.allowed)
            yield Hit(
                f"The card is of revision {card.revision.text}; this family is for {want}.",
                (
                    Evidence(card.revision.place, "revision", None, None, want, card.revision.text),
                    Evidence(case.asked.line("card.revision", "card"), "allowed", None, None, want, ""),
                ),
            )
        if card.pci_revision is not None:
            yield from _other_controller(case, card.pci_revision)


def _other_controller(case: KitCase, shown: Said) -> Iterator[Hit]:
    for pick in case.picks:
        if pick.chosen is None or pick.chosen.case.candidate.kind != PACKAGE:
            continue
        records = [(one, one.value(PCI_REVISION)) for one in records_for(pick.chosen.case)]
        wanted = {value for _one, value in records if isinstance(value, int) and value}
        if not records or len(records) != sum(bool(value) for _one, value in records) or int(shown.text, 16) in wanted:
            continue
        want = ", ".join(f"{one:02X}" for one in sorted(wanted))
        place = place_of(pick.chosen.case.candidate)
        yield Hit(
            f"The card's controller is of PCI revision {shown.text}; the package is for {want}.",
            (
                Evidence(place, PCI_REVISION, field_at(records[0][0], PCI_REVISION), 1, want, shown.text),
                Evidence(shown.place, PCI_REVISION, None, None, want, shown.text),
            ),
            role=pick.role,
            piece=pick.chosen.sha256,
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
