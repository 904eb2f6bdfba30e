"""The drafted file as a whole: what was inferred, line by line with its source, and what is asked, where it belongs."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

from catalogue.families.drafting import about_card, about_pieces, about_routes
from catalogue.families.drafting.given import Given
from catalogue.families.drafting.identities import is_listing, seen_listing
from catalogue.families.drafting.layouts import seen_layout
from catalogue.families.drafting.log import seen_routes
from catalogue.families.drafting.modes import seen_modes
from catalogue.families.drafting.page import Page, quote, quotes
from catalogue.families.drafting.releases import seen_releases
from catalogue.families.drafting.roles import WRITER, sort_pieces
from catalogue.families.drafting.versions import order_of, seen_version
from catalogue.shapes.draft import Draft, DraftedLine
from catalogue.shapes.visible import visible

_AT = re.compile(r"(.+?) at ([0-9A-F]+)h(?:$|[,;])")
MOST_ENDS = 60


def draft(given: Given) -> Draft:
    """A family file drafted from what is given; never raises for what stands in it."""
    saved = sorted((one for one in given.texts if one.saved or is_listing(one)), key=lambda one: not one.saved)
    opaque = [one for one in given.pieces if one.kind == "opaque"]
    listing = seen_listing(saved, opaque)
    identities = listing.identities if listing else ()
    modes = seen_modes(given.pieces, saved)
    layout = seen_layout(given.pieces, modes, identities, given.sums)
    sorted_ = sort_pieces(given.pieces, layout, given.texts, {one.sha256 for one in saved})
    versions = {role: seen_version(held) for role, held in sorted_.roles.items()}
    cards = frozenset(one.sha256 for one in layout.dumps) if layout else frozenset()
    routes = seen_routes(given.texts, sorted_.roles, identities, listing.slot if listing else "", cards)
    releases = seen_releases(sorted_.roles, given.texts, cards, given.folder)

    page = Page()
    about_card.card(page)
    about_card.modes(page, modes)
    about_card.listing(page, listing, routes)
    about_pieces.roles(page, sorted_, versions, layout)
    about_pieces.layout(page, layout)
    about_pieces.releases(page, releases, versions)
    about_routes.routes(page, routes)
    about_routes.last(page)
    head = _head(given, modes[0].name if modes else "", versions)
    text, inferred = page.finished(head)
    used = sum(len(held) for held in sorted_.roles.values())
    return Draft(text, traced(given, inferred), (*head.asks.values(), *page.asks.values()), used)


def traced(given: Given, lines: tuple[DraftedLine, ...]) -> tuple[DraftedLine, ...]:
    """The lines with the piece and the offset that their source begins with, so that its bytes can be opened."""
    places = {visible(place): one.sha256 for one in given.pieces for place in one.places}
    places |= {visible(one.name): one.sha256 for one in given.texts if one.sha256}
    return tuple(_traced(one, places) for one in lines)


def _traced(line: DraftedLine, places: Mapping[str, str]) -> DraftedLine:
    found = _AT.match(line.source)
    if found and found[1] in places:
        return replace(line, piece=places[found[1]], offset=int(found[2], 16))
    ends = [n for n in range(len(line.source) + 1) if line.source[n : n + 1] in ("", ",", ";", " ")]
    place = next((line.source[:n] for n in reversed(ends[:MOST_ENDS]) if line.source[:n] in places), "")
    return replace(line, piece=places.get(place, ""))


def _head(given: Given, mode: str, versions: about_pieces.Versions) -> Page:
    head = Page()
    head.note(f"Drafted on {given.today.isoformat()} from the folder {given.folder}.")
    head.note("Each line ends with the place it was read from. What no byte can tell is asked: answer below each ask,")
    head.note("then take its name out of `asks`. With one left the file stays unsettled. Defer to the card maker's")
    head.note("own instructions; nothing here was tried on a card.")
    head.put("schema = 1")
    head.put(f"id = {quote('draft-' + (mode.removeprefix('id-') or 'family'))}")
    head.ask("title", "what is this card called?", "a name is what people say, not what bytes hold",
             'write title = "..." here, and an id of your own if you like')  # fmt: skip
    head.put(f"as_of = {given.today.isoformat()}", "the day of this draft")
    values = [value for role, seen in versions.items() if seen for value in seen.values.values()]
    order = order_of(values)
    if order:
        head.put(f"order = {quote(order)}", f"the {len(values)} versions below, which are numbers and dots throughout"
                 if order == "numeric" else f"the {len(values)} versions below, which are days")  # fmt: skip
    elif values or WRITER in versions:
        head.ask("order", "how do versions of this family follow one another?",
                 "no version was read, or they allow several orders",
                 'write order = "numeric", "debian", "semver", "date" or "listed" here')  # fmt: skip
    source = f"folder = {quote(given.root)}" if given.root else f"pieces = {quotes(given.chosen)}"
    head.note("accept-family proves this file by what it was drafted from: that must come out ready, and a piece that")
    head.note("must not be taken must come out stopped. Take it out to answer for the file as one written by hand.")
    head.put(f"drafted = {{ {source} }}")
    head.note("The open questions. Take out each that you have answered.")
    return head
