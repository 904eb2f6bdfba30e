"""kitproof accept-family FILE"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from catalogue.cli.command import Answer, Command
from catalogue.cli.given import path
from catalogue.shapes.progress import Progress
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", type=path, help="the family file; it may lie anywhere")


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import accept_family

    done = accept_family.run(context, given.file)
    if done.settled:
        lines = (f"{done.id} is settled: its laws hold, and this very file (SHA-256 {done.sha256[:12]}…) is accepted.",)
        return Answer(done, lines)
    wrong = [f"{visible(one.file, 300)}:{one.line}: {visible(one.text, 400)}" for one in done.problems]
    return Answer(done, ("Not settled:", *wrong), 1)


COMMAND = Command(
    "accept-family",
    "Settle a family file you have checked: its laws are proved, its SHA-256 is kept. Edited, it is unsettled again.",
    "the file does not settle",
    _arguments,
    _run,
)
