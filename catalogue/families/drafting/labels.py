"""Lines of a saved text that give a value behind a label, and rows of values under heads."""

from __future__ import annotations

import re
from dataclasses import dataclass

from catalogue.families import patterns

MOST_LINE = 300
MOST_LINES = 5_000
_GAP_BEGINS = re.compile(r"[.:=\t]|  ")
_LABEL = re.compile(r"[A-Za-z][A-Za-z0-9 /()#_-]{0,60}")
_GAP = re.compile(r"\t+| {2,}|\s*\|\s*")
_SLOT = re.compile(r"(?=[A-Za-z:.]*[0-9])[A-Za-z0-9](?:[A-Za-z0-9:.]{0,14}[A-Za-z0-9])?")


@dataclass(frozen=True, slots=True)
class Labelled:
    """A line `label gap value`; `number` counts from 0, `pad` is how far in it begins."""

    number: int
    pad: int
    label: str
    value: str

    def pattern(self, placeholder: str = "value") -> str:
        """The line as a family's pattern."""
        return f"{self.label} ~ {{{placeholder}}}"


def labelled(lines: tuple[str, ...]) -> list[Labelled]:
    """Every such line, MOST_LINES looked at."""
    return [one for number, line in enumerate(lines[:MOST_LINES]) if (one := _labelled(number, line)) is not None]


def _labelled(number: int, line: str) -> Labelled | None:
    if len(line) > MOST_LINE or not line.isascii():
        return None
    body = line.strip()
    gap = _GAP_BEGINS.search(body)
    if gap is None:
        return None
    label = body[: gap.start()].rstrip()
    value = body[gap.start() :].lstrip(" \t.:=")
    between = body[len(label) : len(body) - len(value)]
    if between == "." or not value.isprintable() or not value or not _LABEL.fullmatch(label):
        return None
    return Labelled(number, len(line.expandtabs()) - len(line.expandtabs().lstrip()), label, value)


def block_of(rows: list[Labelled], inner: Labelled) -> Labelled | None:
    """The line that begins the adapter's block: the nearest one above that stands further out and gives a slot."""
    for one in reversed(rows):
        if one.number < inner.number and one.pad < inner.pad:
            return one if _SLOT.fullmatch(one.value) else None
    return None


def cells(line: str) -> list[str]:
    """The texts of a row that gaps part."""
    return [one.strip() for one in _GAP.split(line[:MOST_LINE].strip()) if one.strip()]


def gives(lines: tuple[str, ...], one: Labelled) -> bool:
    """Whether the line's own pattern gives its value back."""
    return _gives(lines[one.number], one.pattern(), one.value)


def _gives(line: str, pattern: str, value: str) -> bool:
    try:
        found = patterns.find(line.encode("utf-8", "surrogateescape"), pattern)
    except ValueError:
        return False
    return found is not None and found.value == value
