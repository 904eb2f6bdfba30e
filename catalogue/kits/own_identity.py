"""Whether an identity in an EEPROM image is that of the card which the kit is for, as a saved text shows it.

Decisions on sentences of the contract:
- One kit is for every adapter of every text given with it, so an identity is the card's own only where each of them
  shows that very one. What a text does not show is not known to be its own.
- Values are compared without separators, case and leading zeros: none of these makes another identity.
- An address anywhere in the image is the card's own where it lies in the span of one that is (`span` of the family).
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from catalogue.families.model import Family
from catalogue.shapes.card import CardFacts, Said
from catalogue.shapes.reading import Field

ADDRESSES = ("sas-address", "mac")
PREFIX = "identity."
_SEPARATORS = re.compile(r"[\s:.\-_]+")
_HEX = re.compile(r"(?:0x)?([0-9a-f]{1,16})h?")


def shown(cards: Sequence[CardFacts], name: str) -> Said | None:
    """The identity that every card shows under this name; None where one shows none, or they differ."""
    said = [one.identities.get(name) for one in cards]
    first = said[0] if said else None
    if first is None or any(one is None or compared(one.text) != compared(first.text) for one in said):
        return None
    return first


def is_own(family: Family, cards: Sequence[CardFacts], field: Field) -> bool:
    """Whether a field of the layout (`identity.NAME`) or an address found elsewhere is the card's own."""
    if field.name.startswith(PREFIX):
        name = field.name.removeprefix(PREFIX)
        said = shown(cards, name)
        if said is None:
            return False
        kind = family.identities[name].kind if name in family.identities else "text"
        if isinstance(field.value, int) or kind in ADDRESSES:
            return number(said.text) is not None and number(said.text) == number(field.value)
        return compared(said.text) != "" and compared(said.text) == compared(str(field.value))
    value = number(field.value)
    return value is not None and any(value in own for own in _spans(family, cards))


def _spans(family: Family, cards: Sequence[CardFacts]) -> list[range]:
    found = []
    for name, one in family.identities.items():
        said = shown(cards, name) if one.kind == "sas-address" else None
        first = number(said.text) if said is not None else None
        if first is not None:
            found.append(range(first, first + one.span))
    return found


def number(value: object) -> int | None:
    """An address as a number: from a field's number, or from hex digits with any separators."""
    if isinstance(value, int):
        return value
    found = _HEX.fullmatch(_SEPARATORS.sub("", str(value)).lower())
    return int(found[1], 16) if found else None


def compared(text: str) -> str:
    """A value without what makes no other identity."""
    return _SEPARATORS.sub("", text).casefold().lstrip("0")
