"""Where a piece of evidence leads: bytes of a piece, a line of a text, a person's decision, untold facts."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Leads(StrEnum):
    """What is opened."""

    BYTES = "bytes"
    LINE = "line"
    PERSON = "person"
    HOST = "host"


@dataclass(frozen=True, slots=True)
class Target:
    """`what` is a SHA-256 or a file's path; for a person the role of the pin. `line` counts from 1, 0 for none."""

    leads: Leads
    what: str = ""
    offset: int | None = None
    length: int | None = None
    line: int = 0


@dataclass(frozen=True, slots=True)
class TextLines:
    """Some lines of a text: those around the one that is wanted. `first` is the number of the first of them.

    `wanted` is 0 where the text has no such line; `cut` says that the text goes on before or behind.
    """

    title: str
    lines: tuple[str, ...]
    first: int
    wanted: int
    cut: bool
