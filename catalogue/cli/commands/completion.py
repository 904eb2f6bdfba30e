"""kitproof completion SHELL"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from catalogue.cli.command import Answer, Command
from catalogue.shapes.progress import Progress
from catalogue.tasks.context import Context


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("shell", choices=["bash", "zsh", "tcsh"], help="the shell to complete in")


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    import shtab

    from catalogue.cli.main import build_parser

    script: str = shtab.complete(build_parser(), given.shell)
    return Answer({"shell": given.shell, "script": script}, tuple(script.splitlines()))


COMMAND = Command(
    "completion",
    "Print a script that completes commands and options; bash reads it from ~/.local/share/bash-completion/completions",
    "(not used here)",
    _arguments,
    _run,
)
