"""kitproof pieces"""

from __future__ import annotations

import re
from argparse import ArgumentParser, ArgumentTypeError, Namespace
from collections.abc import Sequence

from catalogue.cli import words
from catalogue.cli.command import Answer, Command
from catalogue.shapes.progress import Progress
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context

IDS = re.compile(r"([0-9A-Fa-f]{4}):([0-9A-Fa-f]{4})")


def _ids(text: str) -> tuple[int, int]:
    match = IDS.fullmatch(text)
    if match is None:
        raise ArgumentTypeError(f"{text!r} is not VVVV:DDDD, four hex digits each")
    return int(match[1], 16), int(match[2], 16)


def _count(text: str) -> int:
    if not text.isascii() or not text.isdigit():
        raise ArgumentTypeError(f"{text!r} is not a whole number from 0 up")
    return int(text)


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("--kind", help="only this kind, such as option-rom/efi or archive/zip")
    parser.add_argument("--text", help="only pieces whose text holds these words")
    parser.add_argument("--card", type=_ids, metavar="VVVV:DDDD", help="only pieces that name this card")
    parser.add_argument("--limit", type=_count, metavar="N", help="at most so many")


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import pieces

    found = pieces.run(context, kind=given.kind, text=given.text, card=given.card, limit=given.limit)
    lines = words.columns(
        map(words.piece_line, found), ("SHA-256 begins", "kind", "card", "version, from", "vouched for", "lies at")
    )
    if found:
        return Answer(found, tuple(lines))
    return Answer(found, () if given.json else (_nothing(given, pieces.kinds(context)),))


def _nothing(given: Namespace, kinds: Sequence[str]) -> str:
    """Why nothing was found, as far as it can be said."""
    if not kinds:
        return "This catalogue is empty: index a folder first."
    if given.kind is not None and given.kind not in kinds:
        return f"No piece is of kind {visible(given.kind, 80)}; the kinds here are {', '.join(kinds)}."
    return "No piece in the catalogue answers to that."


COMMAND = Command("pieces", "List the pieces of the catalogue.", "(not used here)", _arguments, _run)
