"""The part of a draft that describes the card: modes, the saved listing, identity."""

from __future__ import annotations

from catalogue.families.cursor import NAME
from catalogue.families.drafting.identities import SAS, SERIAL, SeenIdentity, SeenListing
from catalogue.families.drafting.log import SeenRoute
from catalogue.families.drafting.modes import SeenMode
from catalogue.families.drafting.page import Page, quote, quotes

MOST_REST = 12


def card(page: Page) -> None:
    """`[card]`: nothing of it stands in bytes."""
    page.put("[card]")
    page.ask("flash", "how large is the card's flash, in bytes?", "firmware images need not fill it",
             "write flash = N here, from the card's papers; or leave it out")  # fmt: skip
    page.ask("controllers", "does the card carry more than one controller?", "one saved text or ROM shows one of them",
             "write controllers = N here where there are several")  # fmt: skip


def modes(page: Page, seen: tuple[SeenMode, ...]) -> None:
    """`[mode.NAME]`, under names made of their IDs."""
    if not seen:
        page.ask("modes", "which IDs does the card show in each mode?", "no boot ROM and no saved text here says any",
                 'write [mode.NAME] with ids = ["VVVV:DDDD"] for each')  # fmt: skip
        return
    for one in seen:
        assert NAME.fullmatch(one.name)
        page.put(f"[mode.{one.name}]")
        page.put(f"ids = {quotes([f'{one.vendor:04X}:{one.device:04X}'])}", one.source)
        if one.class_code is not None:
            page.put(f"class = {quote(f'{one.class_code:06X}')}", one.class_source)
        else:
            page.ask(f"class-{one.name}", f"which class does {one.name} show?", "no ROM here is for this mode",
                     'write class = "XXXXXX" here from a configuration-space dump, or leave it out')  # fmt: skip
    names = ", ".join(one.name for one in seen)
    page.ask("mode-names", f"what are the modes {names} for?", "an ID does not say what a mode is for",
             "rename the tables as people call the modes, here and in the routes")  # fmt: skip
    page.ask("direction", f"from which mode to which does the work go? {_direction(seen)}",
             "a folder may hold pieces of both modes", "write from and to in each route")  # fmt: skip
    if len(seen) == 1:
        page.ask("tell-apart", "nothing here tells the modes apart: which IDs has the other mode?",
                 "all boot ROMs and saved texts here show one", "write its [mode.NAME] with ids")  # fmt: skip
    elif len(seen) > 2:
        page.ask("too-many-modes", f"do all these {len(seen)} belong to one card?", "IDs alone do not say",
                 "take out the tables of other cards; better draft from a folder of one card")  # fmt: skip
    page.ask("state", "what does the card show half-way, when its flash is empty?", "nothing here is of that moment",
             "write [state.NAME] with ids and after, or leave it out")  # fmt: skip


def _direction(seen: tuple[SeenMode, ...]) -> str:
    text = [one.name for one in seen if one.in_text]
    rom = [one.name for one in seen if one.in_rom]
    return f"Saved texts show {', '.join(text) or 'none'}; boot ROMs are for {', '.join(rom) or 'none'}."


def listing(page: Page, seen: SeenListing | None, routes: tuple[SeenRoute, ...]) -> None:
    """`[listing]` and `[identity.NAME]`."""
    if seen is None:
        page.ask("identity", "what must survive on the card, and how does its listing show it?",
                 "no text here gives an address behind a label or under a head",
                 "give a saved listing with --identity FILE, or write [listing] and [identity.NAME]")  # fmt: skip
        return
    if seen.columns or seen.block:
        page.put("[listing]")
        if seen.columns:
            page.put("columns = true", seen.head_source)
        else:
            page.put(f"block = {quote(seen.block)}", seen.block_source)
    else:
        page.ask("listing", "which line begins an adapter in the saved text?", "the text has no line further out",
                 'write [listing] with block = "Label ~ {slot}", or leave it out for one adapter a text')  # fmt: skip
    for one in seen.identities:
        _identity(page, one, {name: way for route in routes for name, way in route.typed.items()})
    if all(one.kind != SERIAL for one in seen.identities):
        _rest(page, seen, "serial", "does one of these lines give a serial number that must survive?",
              'write [identity.serial] with as = "text" and find')  # fmt: skip
    _rest(page, seen, "revision", "does one of these lines give the board's revision, and which are allowed?",
          'write revision = { find = "Label ~ {value}", allowed = ["..."] } under [card]')  # fmt: skip


def _identity(page: Page, one: SeenIdentity, typed: dict[str, tuple[str, ...]]) -> None:
    page.put(f"[identity.{one.name}]")
    page.put(f"as = {quote(one.kind)}", one.source)
    if one.kind != SERIAL:
        page.put(f"ouis = {quotes([one.oui])}", one.source)
        page.ask(f"span-{one.name}", "at how many addresses, from this one on, does the card answer?",
                 "a text shows the first one", "write span = N here, or leave it out for one")  # fmt: skip
    page.put(f"column = {quote(one.column)}" if one.column else f"find = {quote(one.find)}", one.source)
    spelt = typed.get(one.name, ())
    if one.kind == SERIAL and one.short:
        spelt = ("strip-zeros",)
    if spelt:
        page.put(f"typed = {quotes(spelt)}", one.source if one.kind == SERIAL else "a command line of the log")
    elif one.kind == SAS or one.kind != SERIAL:
        page.ask(f"typed-{one.name}", "how does the utility want it typed?", "no command line here types it",
                 'write typed = [...] of "no-separators", "upper", "lower", or leave it out')  # fmt: skip


def _rest(page: Page, seen: SeenListing, key: str, about: str, how: str) -> None:
    if seen.rest:
        names = "; ".join(f"{one.label} (line {one.number + 1})" for one in seen.rest[:MOST_REST])
        page.ask(key, f"{about} {names}", "a label's meaning is its maker's", f"{how}; or leave it out")
