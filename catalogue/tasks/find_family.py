"""Which families a card belongs to, by the way it shows itself."""

from __future__ import annotations

from catalogue.errors import BadCall
from catalogue.families import match, shown
from catalogue.shapes.results import FamilyMatch
from catalogue.store import Store
from catalogue.tasks import known
from catalogue.tasks.context import Context


def run(context: Context, text: str) -> list[FamilyMatch]:
    """The families that answer to `text`. Raises BadCall where no PCI ID can be read from it."""
    cards = shown.parse(text)
    if not cards:
        raise BadCall(
            "No PCI ID can be read from that. Give a listing line with [vvvv:dddd], a Windows hardware ID, "
            "a dump of configuration space, or the bare IDs."
        )
    with Store.open(context.catalogue) as store:
        library = known.families_for(context, store, {(one.vendor, one.device) for one in cards})
    found: dict[tuple[str, str], FamilyMatch] = {}
    for one in match.families_for(cards, library.families):
        found.setdefault((one.id, one.mode), one)
    return list(found.values())
