"""kitproof families [--check FILE…]"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from catalogue.cli import words
from catalogue.cli.command import Answer, Command
from catalogue.cli.commands.accept_family import changed_value, some
from catalogue.cli.given import path
from catalogue.shapes.progress import Progress
from catalogue.shapes.results import FileProblem
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "--check", metavar="FILE", nargs="+", type=path, help="check these family files, every law of them"
    )


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import families

    if given.check:
        wrong = families.check(context, given.check)
        lines = [_wrong(one) for one in wrong]
        return Answer(wrong, tuple(lines) or ("Every law holds.",), 1 if wrong else 0)
    known = families.run(context)
    rows = [
        (
            one.id,
            visible(one.title, 40),
            ", ".join(one.modes),
            ", ".join(one.routes),
            "settled" if one.settled else "unsettled",
        )
        for one in known
    ]
    lines = words.columns(rows, ("family", "title", "modes", "routes", "state"))
    lines += [f"{one.id} came {visible(one.came, 300)}" for one in known if one.came]
    for one in known:
        lines += [_wrong(problem) for problem in one.problems]
        if one.extends:
            changes = [changed_value(each) for each in one.changes]
            lines.append(f"{one.id} stands on {one.extends}{' and changes:' if changes else ', and changes nothing'}")
            lines += [f"  {each}" for each in some(changes, "values")]
    told = tuple(f"{_wrong(problem)} (no family is known from this file)" for problem in families.unknown(context))
    return Answer(known, tuple(lines) if known else ("No family is known yet.",), told=told)


def _wrong(problem: FileProblem) -> str:
    return f"{visible(problem.file, 300)}:{problem.line}: {visible(problem.text, 400)}"


COMMAND = Command(
    "families",
    "List the card families known here, or check family files.",
    "a checked file has something wrong",
    _arguments,
    _run,
)
