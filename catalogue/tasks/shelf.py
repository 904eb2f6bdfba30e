"""The pieces as the window's Shelf lists them: ids at once, rows a page at a time."""

from __future__ import annotations

import os
import re
import time
from array import array
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache

from catalogue.families import pci_names
from catalogue.families.model import Family
from catalogue.shapes.shelf import ShelfRow, ShelfState
from catalogue.store import Store, evidence, shelf_rows
from catalogue.tasks import known
from catalogue.tasks.context import Context

CARD = re.compile(r"([0-9A-Fa-f]{4}):([0-9A-Fa-f]{4})")
HASH = re.compile(r"[0-9A-Fa-f]{8,64}")
"""From eight hex digits on a word is first taken for the beginning of a hash."""
FAMILIES_SECONDS = 2.0
"""How long the families' IDs are held between two pages."""
_families: dict[Context, tuple[float, dict[tuple[int, int], tuple[str, ...]]]] = {}


def state(context: Context) -> ShelfState:
    """How many pieces there are, how many came with the last indexing, and the intake folders."""
    with Store.open(context.catalogue) as store:
        with store.reading() as connection:
            pieces, new = shelf_rows.counts(connection)
            kinds = tuple(shelf_rows.kinds(connection))
        return ShelfState(pieces, new, tuple(os.fsdecode(path) for path in store.intake_folders()), kinds)


def ids(
    context: Context,
    query: str,
    *,
    only_new: bool = False,
    kind: str | None = None,
    most: int | None = None,
    stopped: Callable[[], bool] | None = None,
) -> array[int]:
    """The ids of the pieces that answer to every word of `query`, newest first; all of them for an empty one.

    `kind`: only pieces of that kind. With `most`, only the first so many: they are there at once, whatever the whole
    answer's length.

    A word is part of a piece's text, `vendor:device`, or a hash or its beginning. `stopped` is asked from inside the
    database; once true, the search ends with Stopped.
    """
    cards: list[tuple[int, int]] = []
    begins: list[str] = []
    words: list[str] = []
    with Store.open(context.catalogue) as store:
        for word in query.split():
            card = CARD.fullmatch(word)
            if card:
                cards.append((int(card[1], 16), int(card[2], 16)))
            elif HASH.fullmatch(word) and store.hashes_beginning(word.lower(), 1):
                begins.append(word.lower())
            else:
                words.append(word)
        with store.reading(stopped) as connection:
            return shelf_rows.ids(connection, words, cards, begins, only_new=only_new, most=most, kind=kind)


def rows(context: Context, ids: Sequence[int]) -> list[ShelfRow]:
    """The rows of these ids, in their order; ids that are gone are left out."""
    with Store.open(context.catalogue) as store:
        with store.reading() as connection:
            found = shelf_rows.rows(connection, ids)
            vouches = evidence.vouches_of(connection, [row.id for row in found])
        by_ids = _by_ids(context, store, {pair for row in found for pair in row.cards})
    made: list[ShelfRow] = []
    for row in found:
        titles = dict.fromkeys(title for pair in row.cards for title in by_ids.get(pair, ()))
        said = vouches.get(row.id, ())
        made.append(
            ShelfRow(
                id=row.id,
                sha256=row.sha256,
                title=row.title,
                kind=row.kind,
                card=_card(row.cards),
                version=row.version,
                version_source=row.version_source,
                size=row.size,
                families=tuple(titles),
                vouch=said[0].rung if said else "none",
                place=row.place,
                new=row.new,
            )
        )
    return made


def _card(cards: Sequence[tuple[int, int]]) -> str:
    if not cards:
        return ""
    key = "{:04x}:{:04x}".format(*cards[0])
    name = _name(cards[0])
    more = f"and {len(cards) - 1} more" if len(cards) > 1 else ""
    return " ".join(part for part in (key.upper(), name, more) if part)


@lru_cache(maxsize=8_192)
def _name(pair: tuple[int, int]) -> str:
    """The names of a vendor and a device in the list of PCI IDs; "" where it has none."""
    names = pci_names.names([pair])
    return " ".join(names[key] for key in (f"{pair[0]:04x}", "{:04x}:{:04x}".format(*pair)) if key in names)


def _by_ids(context: Context, store: Store, pairs: set[tuple[int, int]]) -> Mapping[tuple[int, int], tuple[str, ...]]:
    """The titles of the families whose cards show each of these vendors and devices; of the visible rows alone."""
    now = time.monotonic()
    began, held = _families.get(context, (now, {}))
    if now - began >= FAMILIES_SECONDS:
        began, held = now, {}
    fresh = pairs - held.keys()
    if fresh:
        found: dict[tuple[int, int], tuple[str, ...]] = dict.fromkeys(fresh, ())
        library = known.families_for(context, store, fresh)
        for id_ in sorted(library.families):
            for pair in _pairs(library.families[id_]) & fresh:
                found[pair] = (*found[pair], library.families[id_].title or id_)
        held = {**held, **found}
    _families.clear()
    _families[context] = (began, held)
    return held


def _pairs(family: Family) -> set[tuple[int, int]]:
    ids = [one for mode in family.modes.values() for one in mode.ids]
    ids += [one for state in family.states.values() for one in state.ids]
    return {(one.vendor, one.device) for one in ids}
