"""kitproof demo [DIR]"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from catalogue.cli.command import Answer, Command
from catalogue.cli.given import path
from catalogue.shapes.progress import Progress
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("folder", metavar="DIR", nargs="?", type=path, help="where to put bundles and medium")


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import demo

    done = demo.run(context, given.folder, progress)
    return Answer(done, tuple(visible(line, 400) for line in done.lines), 0 if done.as_intended else 1)


COMMAND = Command(
    "demo",
    "Make the sample bundles, index them, prove a kit, refuse a wrong one, write out, read back.",
    "something did not come out as intended",
    _arguments,
    _run,
)
