"""kitproof draft-family FOLDER"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from catalogue.cli.command import Answer, Command
from catalogue.cli.given import path
from catalogue.shapes.progress import Progress
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "folder", metavar="FOLDER", nargs="?", type=path, help="a folder of pieces that are known to be good"
    )
    parser.add_argument(
        "--identity", metavar="FILE", action="append", default=[], type=path,
        help="a card's saved listing, a dump of its memory, or the log of a conversion that worked",
    )  # fmt: skip
    parser.add_argument(
        "--piece", metavar="HASH", action="append", default=[],
        help="in place of a folder: an indexed piece that is known to be good; may repeat",
    )  # fmt: skip
    parser.add_argument("--out", metavar="FILE", type=path, help="write the draft there (never over a file)")


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import draft_family

    made = draft_family.run(context, given.folder, given.identity, given.out, progress, chosen=given.piece)
    told = [visible(one, 400) for one in made.said]
    told.append(f"{len(made.inferred)} lines inferred from {made.pieces} pieces; {len(made.asks)} questions are open.")
    if made.file is None:
        lines = tuple(made.text.splitlines())
    else:
        lines = (f"Drafted {visible(made.file, 300)}. Answer its questions:",
                 *(f"  {one.key}: {one.about}" for one in made.asks),
                 "then run families --check and accept-family on it.")  # fmt: skip
    return Answer(made, lines, 0 if made.pieces else 1, tuple(told))


COMMAND = Command(
    "draft-family",
    "Draft a family file from a known-good folder: each line with its source, and what no byte can tell as questions.",
    "nothing in the folder does a job of a kit",
    _arguments,
    _run,
)
