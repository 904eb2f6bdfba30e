"""kitproof kit-sheet FAMILY"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from catalogue.cli.command import Answer, Command
from catalogue.cli.commands.hosts import add_host, host_of
from catalogue.cli.commands.kit import add_identity
from catalogue.shapes.progress import Progress
from catalogue.tasks.context import Context


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("family", metavar="FAMILY", help="the family's id")
    parser.add_argument("--route", metavar="R", help="the route (default: the family's first)")
    add_host(parser)
    add_identity(parser)


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import kit_sheet

    text = kit_sheet.run(
        context, given.family, given.route, host=host_of(given), saved=given.identity, progress=progress
    )
    return Answer({"text": text}, tuple(text.splitlines()))


COMMAND = Command(
    "kit-sheet",
    "Print a ready kit's steps, with the very names its files will have.",
    "(not used here)",
    _arguments,
    _run,
)
