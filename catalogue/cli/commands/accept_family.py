"""kitproof accept-family FILE"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator

from catalogue.cli.command import Answer, Command
from catalogue.cli.given import path
from catalogue.shapes.draft import Proof
from catalogue.shapes.progress import Progress
from catalogue.shapes.results import FamilyChange, FamilyUpdate
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context

MOST_SHOWN = 8
MOST_LINES = 40


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", type=path, help="the family file; it may lie anywhere")
    parser.add_argument(
        "--look-only", action="store_true", help="prove it, and say what it changes, but do not accept it"
    )


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import accept_family

    done = accept_family.run(context, given.file, progress, only_look=given.look_only)
    if done.settled:
        lines = (f"{done.id} is settled: its laws hold, and this very file (SHA-256 {done.sha256[:12]}…) is accepted.",)
        return Answer(done, (*lines, *shown_proof(done.proof), *shown_update(done.update)))
    if given.look_only and not done.problems:
        lines = (f"{done.id} would settle; nothing is accepted, for you only looked.",)
        return Answer(done, (*lines, *shown_proof(done.proof), *shown_update(done.update)))
    wrong = [f"{visible(one.file, 300)}:{one.line}: {visible(one.text, 400)}" for one in done.problems]
    return Answer(done, ("Not settled:", *wrong, *shown_proof(done.proof)), 1)


def shown_update(update: FamilyUpdate | None) -> Iterator[str]:
    """What a new text changes, a line each."""
    if update is None:
        return
    yield f"Against the text that was accepted before (SHA-256 {update.before[:12]}…):"
    values = [changed_value(one) for one in update.changes]
    kits = [
        f"{one.route}, {one.what}: {visible(one.was, 200)} before, now {visible(one.now, 200)}" for one in update.kits
    ]
    yield from (f"  {one}" for one in some(values, "values"))
    yield from (f"  {one}" for one in some(kits, "differences between kits"))
    if not values:
        yield "  no value differs"
    if not kits:
        yield "  no kit of this catalogue comes out otherwise"
    for target in update.written:
        yield f"  a kit written by the text before lies on {visible(target, 200)}"


def changed_value(one: FamilyChange) -> str:
    """One value that differs, with its line."""
    if not one.now:
        return f"{visible(one.path, 120)}: {one.was} is gone"
    was = f"{one.was} is now" if one.was else "new:"
    return f"{visible(one.path, 120)}: {was} {one.now} (line {one.line})"


def some(lines: list[str], what: str) -> Iterator[str]:
    """The first of many lines, and how many more there are."""
    yield from lines[:MOST_LINES]
    if len(lines) > MOST_LINES:
        yield f"and {len(lines) - MOST_LINES} more {what}; --json has all"


def shown_proof(proof: Proof | None) -> Iterator[str]:
    """What the proof of a drafted file tried, a line each."""
    if proof is None:
        return
    for route in proof.routes:
        how = "ready" if route.verdict == "ready" else "not ready"
        yield f"  {route.route}: what it was drafted from comes out {how}"
    for one in proof.counters[:MOST_SHOWN]:
        how = f"stopped ({', '.join(one.stops)})" if one.stops else "taken"
        yield f"  {one.route}: {one.what} {visible(one.place, 200)} for {one.role}: {how}"
    if len(proof.counters) > MOST_SHOWN:
        yield f"  and {len(proof.counters) - MOST_SHOWN} more counter-examples"
    yield from (f"  {visible(one, 300)}" for one in proof.said)


COMMAND = Command(
    "accept-family",
    "Settle a family file you have checked: its laws are proved, and of a draft also that what it was drafted "
    "from comes out ready and a counter-example stopped; its SHA-256 is kept. Edited, it is unsettled again.",
    "the file does not settle",
    _arguments,
    _run,
)
