"""kitproof rules [CODE…]"""

from __future__ import annotations

import textwrap
from argparse import ArgumentParser, Namespace

from catalogue.cli import words
from catalogue.cli.command import Answer, Command
from catalogue.shapes.manual import RuleManual
from catalogue.shapes.progress import Progress
from catalogue.tasks.context import Context

WIDTH = 79


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "codes", metavar="CODE", nargs="*", help="a finding's code; all rules in short where none is named"
    )


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import rules

    found = rules.run(tuple(given.codes))
    if given.codes:
        return Answer(found, tuple(line for one in found for line in (*manual_lines(one), "")))
    rows = [(one.code, one.level.partition(";")[0], one.title) for one in found]
    return Answer(found, tuple(words.columns(rows, ("code", "level", "what it says"))))


def manual_lines(one: RuleManual) -> list[str]:
    """One rule's manual for a person."""
    said = [("", one.catches), ("", one.more), ("Fine", one.fine), *one.cases, ("Looks at", one.looks_at),
            ("What to do", one.remedy), ("Source", one.source)]  # fmt: skip
    lines = [f"{one.code} ({one.level})"]
    for label, text in said:
        if text:
            lines += textwrap.wrap(
                f"{label}: {text}" if label else text, WIDTH, initial_indent="  ", subsequent_indent="    "
            )
    return lines


COMMAND = Command(
    "rules", "Say what each rule looks for, with a case that is fine and one that is refused.", "(not used here)",
    _arguments, _run,
)  # fmt: skip
