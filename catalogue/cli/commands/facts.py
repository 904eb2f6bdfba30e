"""kitproof facts; kitproof take-back FACT"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Iterable

from catalogue.cli import words
from catalogue.cli.command import Answer, Command
from catalogue.shapes.progress import Progress
from catalogue.shapes.results import FactLine
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context

HEAD = ("fact", "kind", "since", "by", "bench", "what")


def fact_rows(facts: Iterable[FactLine]) -> list[str]:
    """Facts under one another, with who said what, since when, and from which bench."""
    found = list(facts)
    rows = [
        (
            one.id[:12],
            one.kind,
            one.at[:10],
            visible(one.by, 40) or "-",
            visible(one.bench, 40) or "this one",
            visible(one.what, 160),
        )
        for one in found
    ]
    lines = words.columns(rows, HEAD)
    for number, one in reversed(list(enumerate(found, 1))):
        if one.why:
            lines.insert(number + 1, f"  {visible(one.why, 200)}")
        if one.accepted_by:
            lines.insert(number + 1, f"  taken in by {visible(one.accepted_by, 80)} on {one.accepted_at[:10]}")
    return lines


def _no_arguments(_parser: ArgumentParser) -> None:
    """It takes none."""


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import facts

    found = facts.run(context)
    if not found:
        return Answer(found, () if given.json else ("Nobody has recorded anything here yet; see `kitproof vouch`.",))
    return Answer(found, tuple(fact_rows(found)))


def _take_back_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("fact", metavar="FACT", help="the fact's id, or its beginning, as `facts` lists it")
    parser.add_argument("--reason", metavar="TEXT", required=True, help="why")
    parser.add_argument("--by", metavar="NAME", required=True, help="who takes it back")


def _take_back(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import facts

    done = facts.take_back(context, given.fact, given.reason, given.by)
    said = f"Taken back: {visible(done.fact.what, 200)}. What only it vouched for has lost that rung."
    return Answer(done, (said,))


COMMAND = Command(
    "facts", "List what people recorded: lists, keys, words, cards that ran; who, when, from which bench.",
    "(not used here)", _no_arguments, _run,
)  # fmt: skip
TAKE_BACK = Command(
    "take-back", "Take a recorded fact back, with a reason: it says nothing any more.",
    "(not used here)", _take_back_arguments, _take_back,
)  # fmt: skip
