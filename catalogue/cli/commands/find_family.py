"""kitproof find-family TEXT"""

from __future__ import annotations

import sys
from argparse import ArgumentParser, Namespace

from catalogue.cli import words
from catalogue.cli.command import Answer, Command
from catalogue.errors import BadCall
from catalogue.shapes.progress import Progress
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context

MOST = 1 << 20
"""Bytes of text taken from standard input."""


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "text",
        metavar="TEXT",
        help="a PCI listing line, a Windows hardware ID, a configuration-space dump or bare IDs; - reads stdin",
    )


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import find_family

    text = given.text
    if text == "-":
        if sys.stdin is None:  # closed before the start
            raise BadCall("Standard input is closed; give the lines about the card as TEXT, or pipe them in.")
        data = sys.stdin.buffer.read(MOST + 1)
        if len(data) > MOST:
            raise BadCall("Standard input is longer than a mebibyte; give only the lines about the card.")
        text = data.decode("utf-8", "replace")
    found = find_family.run(context, text)
    rows = [(one.id, visible(one.title, 40), one.mode, visible(one.why, 200)) for one in found]
    lines = words.columns(rows, ("family", "title", "shows", "why"))
    return Answer(found, tuple(lines) if found else ("No known family answers to that card.",))


COMMAND = Command("find-family", "Find the families of a card as it shows itself.", "(not used here)", _arguments, _run)
