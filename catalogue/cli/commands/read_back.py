"""kitproof read-back TARGET"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from catalogue.cli import words
from catalogue.cli.command import Answer, Command
from catalogue.cli.given import path
from catalogue.shapes.finding import Level
from catalogue.shapes.progress import Progress
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("target", metavar="TARGET", type=path, help="a medium, or one kit's folder on it")


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import read_back

    done = read_back.run(given.target, progress)
    lines = words.columns([(visible(one.name, 200), one.state) for one in done.files], ("name", "state"))
    for finding in done.findings:
        lines += ["", *words.finding_lines(finding)]
    stopped = any(finding.level is Level.STOP for finding in done.findings)
    same = done.read_back == "same" and not stopped
    lines.append("Every byte is the same." if same else "The medium differs: do not use it.")
    return Answer(done, tuple(lines), 0 if same else 1)


COMMAND = Command(
    "read-back",
    "Compare a medium, or one kit's folder, with what it says of itself; needs no catalogue.",
    "the medium differs",
    _arguments,
    _run,
)
