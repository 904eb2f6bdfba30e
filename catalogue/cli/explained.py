"""Answers about a kit as lines: why pieces were not chosen, and what would make it ready."""

from __future__ import annotations

from collections.abc import Iterator

from catalogue.cli import words
from catalogue.shapes.mending import Explained, Mending
from catalogue.shapes.visible import visible
from catalogue.shapes.why_not import Asking, WhyNot

MOST_SEEN = 4


def explained_lines(done: Explained) -> list[str]:
    """All that was asked; no line where nothing was."""
    lines: list[str] = []
    for one in done.why or ():
        lines += ["", *_why(one)]
    if done.mend is not None:
        lines += ["", *_mend(done.mend, ready=done.kit.verdict == "ready"), ""]
    return lines


def _why(one: WhyNot) -> Iterator[str]:
    yield f"Why not {visible(one.name, 60)} {one.piece[:12]} for {one.role}: {one.stands}"
    yield f"    {visible(one.text, 600)}"
    for title, asked in (("what makes a piece near the role", one.nearness), ("what the role asks of it", one.fit)):
        if asked:
            yield f"  {title}"
            for asking in asked:
                yield from _asking(asking)
    for stop in one.stops:
        yield from (f"  {line}" for line in words.finding_lines(stop))


def _asking(one: Asking) -> Iterator[str]:
    yield f"    {one.what}: {one.says}. {visible(one.text, 400)}"
    yield from (f"        seen: {words.evidence_line(seen)}" for seen in one.evidence[:MOST_SEEN])
    if len(one.evidence) > MOST_SEEN:
        yield f"        seen: and {len(one.evidence) - MOST_SEEN} more places"


def _mend(found: Mending, *, ready: bool) -> Iterator[str]:
    if ready:
        yield "Nothing need change: the kit is ready."
        return
    if found.proposals:
        yield "What would make it ready; any one of these, the safest first:"
    for number, proposal in enumerate(found.proposals, 1):
        first, *more = proposal.changes
        yield f"  {number}. {visible(first.text, 800)}"
        yield from (f"     and: {visible(one.text, 800)}" for one in more)
        if not proposal.least:
            yield "     (each of these was left out in turn, and then it was not ready; smaller parts were not tried)"
    for text in found.stuck:
        yield f"  No change known here clears this: {visible(text, 600)}"
    if not found.all_tried:
        yield "  Not all were tried: the search was ended by its bounds."
