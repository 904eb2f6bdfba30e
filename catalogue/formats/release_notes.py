"""Versions and days that a text of notes mentions, with their offsets. Whether one is a release only a person can say.

A version goes with the day on its own line, else with the nearest one within a few lines, the later of two as near:
makers write the day behind the version, or below it (common practice, no published source).
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

from catalogue.formats import date_stamps, versions
from catalogue.formats.text_decoding import decode
from catalogue.formats.view import View
from catalogue.shapes.reading import DateClaim

NEAR_LINES = 3
MOST_TEXT = 300


@dataclass(frozen=True, slots=True)
class Mentioned:
    """A version, the bytes it begins at, its line (from 1) and that line's text; the day near it, and where."""

    version: str
    offset: int
    line: int
    text: str
    day: DateClaim | None = None


def mentions(view: View) -> tuple[Mentioned, ...] | None:
    """What the text mentions, in its order, each version once; None where it is no text.

    Raises nothing but the view's own OSError.
    """
    text = decode(view)
    if text is None:
        return None
    wide = 2 if text.encoding.startswith("utf-16") else 1
    end = "\n".encode(text.encoding if wide == 2 else "ascii")
    data = view.at(0, view.size if not text.cut else len(text.text) * wide)
    begins = [0]
    at = data.find(end)
    while at >= 0:
        if (at - text.mark) % wide == 0:
            begins.append(at + wide)
        at = data.find(end, at + 1)
    lines = text.text.split("\n")
    days = [(_line(begins, one.offset or 0), one) for one in date_stamps.find(view)]
    found = []
    for claim in sorted(versions.find(view), key=lambda one: one.offset or 0):
        offset = claim.offset or 0
        line = _line(begins, offset)
        said = lines[line - 1].strip()[:MOST_TEXT] if line <= len(lines) else ""
        found.append(Mentioned(claim.value, offset, line, said, _nearest(days, line)))
    return tuple(found)


def _line(begins: list[int], offset: int) -> int:
    return bisect_right(begins, offset)


def _nearest(days: list[tuple[int, DateClaim]], line: int) -> DateClaim | None:
    near = [(abs(at - line), at < line, day.offset or 0, day) for at, day in days if abs(at - line) <= NEAR_LINES]
    return min(near, key=lambda one: one[:3])[3] if near else None
