"""kitproof words FAMILY [--take-back CODE=HASH]"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from catalogue.cli.command import Answer, Command
from catalogue.errors import BadCall
from catalogue.shapes.progress import Progress
from catalogue.shapes.results import WordGiven
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("family", metavar="FAMILY", help="the family's id")
    parser.add_argument("--take-back", metavar="CODE=HASH", help="take this word back; the listing follows")


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import words

    if given.take_back:
        code, sign, sha256 = given.take_back.partition("=")
        if not (code and sign and sha256):
            raise BadCall(f"--take-back {given.take_back}: it takes CODE=HASH.")
        words.take_back(context, given.family, code, sha256)
    found = words.listed(context, given.family)
    lines = [line for one in found for line in _lines(one)]
    return Answer(found, tuple(lines) or (f"No word is on record for {given.family}.",))


def _lines(one: WordGiven) -> list[str]:
    lines = [
        f"{one.code} {one.sha256[:12]}: {visible(one.reason, 300)}",
        f"  {visible(one.by, 80)}, {one.at[:10]}; {visible(one.place, 200) or 'it lies nowhere now'}",
    ]
    return [*lines, *(f"  ! {visible(text, 300)}" for text in one.changed)]


COMMAND = Command(
    "words", "List the words that people gave for a family, and what has changed since; or take one back.",
    "(not used here)", _arguments, _run,
)  # fmt: skip
