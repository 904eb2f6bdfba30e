"""kitproof accept-family FILE"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator

from catalogue.cli.command import Answer, Command
from catalogue.cli.given import path
from catalogue.shapes.draft import Proof
from catalogue.shapes.progress import Progress
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context

MOST_SHOWN = 8


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", type=path, help="the family file; it may lie anywhere")


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import accept_family

    done = accept_family.run(context, given.file, progress)
    if done.settled:
        lines = (f"{done.id} is settled: its laws hold, and this very file (SHA-256 {done.sha256[:12]}…) is accepted.",)
        return Answer(done, (*lines, *shown_proof(done.proof)))
    wrong = [f"{visible(one.file, 300)}:{one.line}: {visible(one.text, 400)}" for one in done.problems]
    return Answer(done, ("Not settled:", *wrong, *shown_proof(done.proof)), 1)


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
