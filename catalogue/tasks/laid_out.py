"""Configuration EEPROM images as the layouts of the families at hand read them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from catalogue.families.library import Library
from catalogue.formats import eeprom_image
from catalogue.shapes.layout import Layout
from catalogue.shapes.reading import Reading

MOST_BYTES = 1 << 20
"""A longer piece is no configuration EEPROM (the largest serial EEPROMs hold 4 Mbit; common practice, no published
source: a card's configuration takes some hundred bytes)."""


@dataclass(frozen=True, slots=True)
class LaidOut:
    """Readings by one layout, one for each of the contents asked for; None where the layout does not know one."""

    family: str
    layout: str
    readings: tuple[Reading | None, ...]


def by_families(contents: Sequence[bytes], library: Library) -> LaidOut | None:
    """The contents by the layout that fits most of them; None where none fits any.

    Settled families come first; a layout that only reads a content as blank, cut or swapped counts less than one that
    fits.
    """
    best: LaidOut | None = None
    most = (0, 0)
    for id_, name, layout in _layouts(library):
        answers = [eeprom_image.answer(one, layout).state for one in contents]
        fits = answers.count("fits")
        rank = (fits, len(answers) - answers.count("other"))
        if fits and rank > most:
            most = rank
            best = LaidOut(id_, name, tuple(eeprom_image.reading(one, layout) for one in contents))
    return best


def _layouts(library: Library) -> list[tuple[str, str, Layout]]:
    order = sorted(library.families.values(), key=lambda one: (not one.settled, one.id))
    return [(family.id, name, family.layouts[name]) for family in order for name in sorted(family.layouts)]
