"""kitproof vouch --list FILE --source TEXT"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from catalogue.cli.command import Answer, Command
from catalogue.cli.given import path
from catalogue.shapes.progress import Progress
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("--list", metavar="FILE", type=path, required=True, help="a checksum list")
    parser.add_argument("--source", metavar="TEXT", required=True, help="where you have the list from")
    parser.add_argument("--by", metavar="NAME", default="", help="who says so")


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import vouch

    done = vouch.record_list(context, given.list, given.source, given.by)
    lines = [
        f"Recorded {done.entries} digests from {visible(given.source, 200)}; {done.matched} name pieces found here."
    ]
    lines += [
        f"Contradicted: {visible(one.place, 200)} should be {one.want}, and is {one.have}" for one in done.contradicted
    ]
    return Answer(done, tuple(lines), 1 if done.contradicted else 0)


COMMAND = Command(
    "vouch",
    "Record a checksum list and where it came from, so that it vouches for pieces.",
    "the list contradicts a piece",
    _arguments,
    _run,
)
