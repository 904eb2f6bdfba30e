"""kitproof releases FAMILY [--notes FILE | --add NAME --date DAY --version ROLE=VERSION…]"""

from __future__ import annotations

from argparse import ArgumentParser, ArgumentTypeError, Namespace
from datetime import date

from catalogue.cli.command import Answer, Command
from catalogue.cli.given import path
from catalogue.errors import BadCall
from catalogue.shapes.progress import Progress
from catalogue.shapes.releases import Mention, NewRelease
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise ArgumentTypeError(f"{text} is no day such as 2026-05-02") from error


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("family", metavar="FAMILY", help="the family's id")
    parser.add_argument(
        "--notes", metavar="FILE", type=path, help="list the versions and days that a notes text mentions"
    )
    parser.add_argument("--add", metavar="NAME", help="add a release of this name; needs --date and --version")
    parser.add_argument("--date", metavar="DAY", type=_day, help="the day it was published")
    parser.add_argument("--version", metavar="ROLE=VERSION", action="append", default=[], help="a role's version in it")
    parser.add_argument("--as-of", metavar="DAY", type=_day, help="what the family knows is of this day from now on")
    parser.add_argument("--source", metavar="TEXT", default="", help="where it was read")
    parser.add_argument("--by", metavar="NAME", default="", help="who says so")


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import families, releases

    if given.add is not None:
        added = releases.add(context, given.family, _new(given))
        if added.problems:
            lines = [f"{one.file}:{one.line}: {visible(one.text, 300)}" for one in added.problems]
            return Answer(added, (*lines, "Nothing was written."), 1)
        said = f"Added at line {added.line} of {visible(added.file, 300)}. Read it, then accept the file again."
        return Answer(added, (said,))
    of = families.detail(context, given.family)
    if given.notes is not None:
        found = releases.mentioned(given.notes)
        return Answer(found, tuple(_mention(one) for one in found) or ("No version is mentioned there.",))
    lines = [
        f"{one.date.isoformat()}  {visible(one.name, 60)}: "
        + ", ".join(
            f"{role} {visible(claim.version or 'by digest or bounds', 40)}" for role, claim in one.claims.items()
        )
        for one in of.releases
    ]
    known = [f"{of.id}, known as of {of.as_of.isoformat()}"]
    return Answer(of.releases, (*known, *(lines or ["It knows no release."])))


def _new(given: Namespace) -> NewRelease:
    if given.date is None or not given.version:
        raise BadCall("--add needs --date and at least one --version ROLE=VERSION.")
    pairs = [one.partition("=") for one in given.version]
    if any(not (role and sign and version) for role, sign, version in pairs):
        raise BadCall("--version takes ROLE=VERSION.")
    return NewRelease(
        given.add.strip(),
        given.date,
        {role: version for role, _, version in pairs},
        source=given.source.strip(),
        by=given.by.strip(),
        as_of=given.as_of,
    )


def _mention(one: Mention) -> str:
    day = f"; {visible(one.day, 30)} at {one.day_offset:04X}h" if one.day else "; no day near"
    return f"{visible(one.version, 40)} at {one.offset:04X}h, line {one.line}{day}: {visible(one.text, 120)}"


COMMAND = Command(
    "releases", "List the releases a family knows or a notes text mentions; add one to a family file of your own.",
    "the file would break a law by it, and nothing was written", _arguments, _run,
)  # fmt: skip
