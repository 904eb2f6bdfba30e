"""From arguments to an exit code. 0 done; 1 something is wrong with what was looked at; 2 bad call; 3 not workable."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from typing import Any, NoReturn

from catalogue.cli import progress
from catalogue.cli.command import Answer, Command
from catalogue.cli.commands import COMMANDS
from catalogue.cli.given import path, place
from catalogue.errors import BadCall, NotWorkable
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context

EXITS = "Exit codes: 0 done and nothing wrong; 1 {wrong}; 2 the call itself is wrong; 3 the work could not be finished."


class Parser(argparse.ArgumentParser):
    """A parser that names a wrong call in one line."""

    def error(self, message: str) -> NoReturn:
        """Exit 2 with one clear line."""
        self.exit(2, f"{self.prog}: {visible(message, 400)} (see {self.prog} --help)\n")


def build_parser() -> Parser:
    """The whole tree of commands. Nothing but argparse is imported for it."""
    parser = Parser(
        prog="kitproof",
        description="Index firmware downloads, prove a whole kit for a card, write it to a medium and read it back. "
        "With no command, the window opens.",
    )
    parser.add_argument(
        "--catalogue", metavar="PATH-OR-URL", type=place, help="the catalogue to use (default: your data folder)"
    )
    parser.add_argument(
        "--families", metavar="DIR", action="append", default=[], type=path, help="a further folder of family files"
    )
    parser.add_argument("--debug", action="store_true", help="show where an unexpected error came from")
    parser.add_argument("--progress", choices=["lines"], help=argparse.SUPPRESS)
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", parser_class=Parser)
    for command in COMMANDS:
        one = commands.add_parser(
            command.name, help=command.help, description=command.help, epilog=EXITS.format(wrong=command.exits)
        )
        one.add_argument("--json", action="store_true", help="print the answer as JSON on standard output")
        command.arguments(one)
        one.set_defaults(row=command)
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit code. Only a bug lets an exception out, and only with --debug."""
    parser = build_parser()
    try:
        given = parser.parse_args(arguments)
        if given.command is None:
            parser.error("a command is needed here")
    except SystemExit as end:
        return int(end.code or 0)
    return _carry_out(given.row, given)


def _carry_out(command: Command, given: argparse.Namespace) -> int:
    handed, shown = progress.make(given.progress)
    context = Context(given.catalogue, tuple(given.families))
    try:
        answer = command.run(given, context, handed)
    except BadCall as error:
        shown.close()
        return _say(f"kitproof: {error}", 2)
    except NotWorkable as error:
        shown.close()
        return _say(f"kitproof: {error}", 3)
    except KeyboardInterrupt:
        shown.close()
        return _say("kitproof: ended at once, as you asked; run the same command again to go on.", 3)
    except OSError as error:
        shown.close()
        if given.debug:
            raise
        what = f"{error.filename}: " if error.filename else ""
        return _say(f"kitproof: {what}{error.strerror or error}. Mend that and run the same command again.", 3)
    except Exception as error:
        shown.close()
        if given.debug:
            raise
        return _say(
            f"kitproof: a fault of our own ({type(error).__name__}: {error}). Run with --debug and report it.", 3
        )
    shown.close()
    for line in answer.told:
        _say(f"kitproof: {line}", 0)
    return _print(answer, as_json=given.json)


def _say(text: str, code: int) -> int:
    if sys.stderr is not None:  # None where it was closed before the start
        sys.stderr.write(visible(text, 2_000) + "\n")
    return code


def _print(answer: Answer, *, as_json: bool) -> int:
    if sys.stdout is None:
        return _say("kitproof: the answer could not be printed: standard output is closed.", 3)
    try:
        if as_json:
            from catalogue.shapes.as_json import as_text

            sys.stdout.write(as_text(answer.value))
        else:
            out: Any = sys.stdout
            for line in answer.lines:
                out.write(line.encode(out.encoding or "utf-8", "replace").decode(out.encoding or "utf-8") + "\n")
        sys.stdout.flush()
    except BrokenPipeError:
        # The reader went away (a pager was closed): nothing is left to say, and flushing again at exit would complain.
        _drop_output()
    except OSError as error:
        _drop_output()
        return _say(f"kitproof: the answer could not be printed: {error.strerror}.", 3)
    return answer.exit


def _drop_output() -> None:
    """Let what is still held back for standard output go nowhere, so that flushing it at exit does not fail again."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
