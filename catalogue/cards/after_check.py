"""The after-check of one card: its listing before a conversion beside the one afterwards (judging.md, `after-differs`).

It compares well where both listings show the same adapters in number; one of them, and only one, is the card; it stood
in the mode that the route begins in and stands in the mode that the route leads to; and every identity that the route
compares is shown in both, is one, and has not changed. What the listings do not show was not compared, and that is
never well. Nothing here knows whether a person saved the texts honestly: who says so is recorded with them.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from catalogue.families.model import Family, Identity, Route
from catalogue.families.saved_text import adapters
from catalogue.shapes.card import CardFacts, Said

MODE = "mode"
"""What a route compares beside identities (family-file.md, `compares`)."""
DIGITS = {"sas-address": 16, "mac": 12}
"""Hex digits of an identity (INCITS SPL; IEEE 802)."""
_SEPARATORS = re.compile(r"[\s:.\-_]+")


@dataclass(frozen=True, slots=True)
class Compared:
    """What the two listings say of the card; `wrong` is empty where it compared well.

    `subsystem` ("ssss:ssss") and `revision` are the board as the listings show it, "" where they do not. `versions` are
    those that the listing afterwards shows, by role.
    """

    card: str
    mode: str = ""
    subsystem: str = ""
    revision: str = ""
    versions: Mapping[str, Said] = field(default_factory=dict)
    wrong: tuple[str, ...] = ()


def compare(family: Family, route: Route, before: str, after: str, card: str) -> Compared:
    """The after-check of `card`, an identity in any spelling, converted by `route`."""
    if before == after:
        return Compared(card, wrong=("Both listings are the same text.",))
    first, second = adapters(before, family, "before"), adapters(after, family, "after")
    was, is_ = (_the_one(found, family, card) for found in (first, second))
    wrong = []
    if len(first) != len(second):
        wrong.append(f"The listing before shows {len(first)} adapters, the one afterwards {len(second)}.")
    for when, one, found in (("before", was, first), ("afterwards", is_, second)):
        if one is None:
            many = sum(_is(card, facts, family) for facts in found)
            wrong.append(f"The listing {when} shows {card} {f'{many} times' if many else 'nowhere'}.")
    if was is None or is_ is None:
        return Compared(card, wrong=tuple(wrong))
    wrong += _modes(route, was, is_)
    wrong += _identities(family, route, was, is_)
    revision, allowed = is_.revision or was.revision, family.card.revision
    fitting = {one.casefold() for one in allowed.allowed} if allowed is not None else set()
    if revision is not None and allowed is not None and revision.text.casefold() not in fitting:
        wrong.append(f"The board is of revision {revision.text}, which the family is not for.")
    if was.revision is not None and is_.revision is not None and was.revision.text != is_.revision.text:
        wrong.append(f"The board was of revision {was.revision.text} and is of {is_.revision.text}.")
    return Compared(
        card=_shown(card, is_, family),
        mode=is_.mode or "",
        subsystem=board_of(is_)[0] or board_of(was)[0],
        revision=board_of(is_)[1] or board_of(was)[1],
        versions=is_.versions,
        wrong=tuple(wrong),
    )


def board_of(card: CardFacts) -> tuple[str, str]:
    """The board as a listing shows it: subsystem and revision, case folded; "" for what it does not show."""
    subsystem = card.subsystem.text.casefold() if card.subsystem is not None else ""
    return subsystem, card.revision.text.casefold() if card.revision is not None else ""


def plain(value: str, identity: Identity | None = None) -> str:
    """An identity without separators and case; without leading zeros where the family types it so."""
    text = _SEPARATORS.sub("", value).casefold()
    return text.lstrip("0") if identity is not None and "strip-zeros" in identity.typed else text


def steps_of(route: Route) -> str:
    """A digest of what a route does to a card: where from and to, and each step's line and effects."""
    steps = [
        [one.name, one.type, one.adds, one.destroys, one.writes, one.saves, one.checks, one.compares, one.then]
        for one in route.steps
    ]
    text = json.dumps([route.source_mode, route.target_mode, route.bench, steps], ensure_ascii=True)
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def _is(card: str, facts: CardFacts, family: Family) -> bool:
    return any(
        plain(card) and plain(said.text, family.identities[name]) == plain(card, family.identities[name]) != ""
        for name, said in facts.identities.items()
    )


def _the_one(found: tuple[CardFacts, ...], family: Family, card: str) -> CardFacts | None:
    mine = [one for one in found if _is(card, one, family)]
    return mine[0] if len(mine) == 1 else None


def _shown(card: str, facts: CardFacts, family: Family) -> str:
    """The identity that `card` is, as the listing spells it."""
    for name, said in facts.identities.items():
        if plain(said.text, family.identities[name]) == plain(card, family.identities[name]):
            return said.text
    return card


def _modes(route: Route, was: CardFacts, is_: CardFacts) -> list[str]:
    wrong = []
    for when, one, want in (("was", was, route.source_mode), ("is", is_, route.target_mode)):
        if one.state is not None:
            wrong.append(f"The card {when} half-way ({one.state}).")
        elif one.mode != want:
            shown = f"mode {one.mode}" if one.mode else "no mode that shows"
            wrong.append(f"The card {when} in {shown}, not in mode {want}.")
    return wrong


def _identities(family: Family, route: Route, was: CardFacts, is_: CardFacts) -> list[str]:
    asked = dict.fromkeys(name for step in route.steps for name in step.compares if name != MODE)
    wrong = [] if asked else ["The route compares no identity, so nothing shows that it is the same card."]
    for name in dict.fromkeys((*asked, *was.identities, *is_.identities)):
        identity = family.identities.get(name)
        old, new = was.identities.get(name), is_.identities.get(name)
        if old is None or new is None:
            if name in asked:
                wrong.append(f"The listing {'before' if old is None else 'afterwards'} does not show its {name}.")
            continue
        digits = DIGITS.get(identity.kind) if identity is not None else None
        if plain(old.text, identity) != plain(new.text, identity):
            wrong.append(f"Its {name} was {old.text} and is {new.text}.")
        elif digits is not None and not _sound(plain(new.text), digits):
            wrong.append(f"Its {name} {new.text} is none: {digits} hex digits, not all 0 or F.")
        elif not plain(new.text, identity):
            wrong.append(f"Its {name} {new.text} says nothing.")
    return wrong


def _sound(text: str, digits: int) -> bool:
    return re.fullmatch(rf"[0-9a-f]{{{digits}}}", text) is not None and set(text) not in ({"0"}, {"f"})
