"""kitproof index PATH…"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from catalogue.cli import words
from catalogue.cli.command import Answer, Command
from catalogue.cli.given import place
from catalogue.shapes.progress import Progress
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("paths", metavar="PATH", nargs="+", type=place, help="a folder or a file to index")


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import index

    done = index.run(context, given.paths, progress)
    lines = [
        f"{words.count(done.files, 'file')} looked at in {done.seconds:.1f} s: {done.new} new, {done.changed} changed, "
        f"{done.unchanged} unchanged, {done.gone} gone.",
        f"Found there: {words.count(done.pieces, 'piece')}, {done.archives} of them archives.",
    ]
    if done.unreadable:
        lines.append(f"Could not be read ({len(done.unreadable)}):")
        lines += [f"  {visible(one.place, 200)}: {visible(one.why, 300)}" for one in done.unreadable[:200]]
        if len(done.unreadable) > 200:
            lines.append(f"  and {len(done.unreadable) - 200} more; --json lists all")
    return Answer(done, tuple(lines), 1 if done.named_unreadable else 0)


COMMAND = Command(
    "index",
    "Index folders or files: read once what is new, skip what has not changed, notice what is gone.",
    "a PATH named here could not be read",
    _arguments,
    _run,
)
