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
    from catalogue.tasks import families, stale

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
    named = {one.family for one in found}
    rest = [info for info in families.run(context) if info.id not in named and info.as_of is not None]
    if not found:
        lines.append("Nothing held or written is stale, as far as the families know.")
    for other in rest:
        told = "nothing stale" if other.settled else "not settled, so it says nothing"
        lines.append(f"{other.id}, known as of {other.as_of}: {told}")
    return Answer(found, tuple(lines), 1 if found else 0)


COMMAND = Command(
    "stale",
    "List stale and withdrawn pieces, and written kits that hold one, by what the settled families know.",
    "something is stale or withdrawn",
    _arguments,
    _run,
)
