"""kitproof stale"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from catalogue.cli.command import Answer, Command
from catalogue.shapes.progress import Progress
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context


def _arguments(parser: ArgumentParser) -> None:
    """It takes none."""


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import stale

    found = stale.run(context, progress)
    lines: list[str] = []
    family = None
    for one in found:
        if one.family != family:
            family = one.family
            lines.append(f"{family}, known as of {one.as_of.isoformat()}")
        lines.append(f"  {visible(one.what, 200)}")
        has, newest = visible(one.has or "a version that is not read", 60), visible(one.newest, 60)
        lines.append(f"    {one.role}: {has}; newest known {newest}; {visible(one.why, 300)}")
    nothing = ("Nothing held or written is stale, as far as the families know.",)
    return Answer(found, tuple(lines) or nothing, 1 if found else 0)


COMMAND = Command(
    "stale",
    "List stale and withdrawn pieces, and written kits that hold one, by what the settled families know.",
    "something is stale or withdrawn",
    _arguments,
    _run,
)
