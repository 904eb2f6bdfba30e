"""The part of a draft that describes the work: routes out of a log's command lines."""

from __future__ import annotations

from catalogue.families.drafting.log import SeenRoute
from catalogue.families.drafting.page import Page, quote, quotes


def routes(page: Page, seen: tuple[SeenRoute, ...]) -> None:
    """`[[route]]` for every bench whose command lines were read; what each line does is asked."""
    if not seen:
        page.ask("route", "which command lines carry the card over?", "no text here gives a utility's command lines",
                 "give the log of a conversion that worked with --identity, or write [[route]]")  # fmt: skip
    for route in seen:
        needs = dict.fromkeys(role for step in route.steps for role in step.uses)
        first = route.steps[0].source
        page.put("[[route]]")
        page.put(f"id = {quote(f'log-{route.bench}')}", first)
        page.ask(f"modes-{route.bench}", "from which mode to which?", "a command line does not say",
                 'write from = "MODE" and to = "MODE" here')  # fmt: skip
        page.put(f"bench = {quote(route.bench)}", first)
        page.put(f"needs = {quotes(needs)}", f"{first} and the lines after it")
        page.ask(f"care-{route.bench}", "what must a person heed at that bench, before anything is written?",
                 "no byte says it",
                 'write care = ["..."] here from the maker\'s instructions, or leave it out')  # fmt: skip
        page.ask(f"unchecked-{route.bench}", "what of that which is written can the utility not read back?",
                 "a log does not show what a utility lacks",
                 'write unchecked = ["..."] here, or leave it out')  # fmt: skip
        page.put("step = [")
        for number, step in enumerate(route.steps, 1):
            page.ask(f"effects-{route.bench}-step-{number}", f"what does this line do? {step.type}",
                     "what a command destroys, writes, saves or checks is its maker's to say",
                     "write say and the effects into this step, from the maker's instructions")  # fmt: skip
            makes = f", makes = {quote(step.makes)}" if step.makes else ""
            page.put(f'  {{ name = "step-{number}", type = {quote(step.type)}{makes} }},', step.source)
        page.put("]")


def last(page: Page) -> None:
    """What stays to be asked of every draft."""
    page.ask("stepping", "must the card run some firmware version before it takes these?", "no piece says so of a card",
             'write stepping = { least = "..." } in each route, or leave it out')  # fmt: skip
