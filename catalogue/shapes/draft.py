"""A drafted family file: its text, where each line was read from, and what no bytes can tell."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DraftedLine:
    """One line of the draft, counted from 1. `text` is without its comment, `source` says where it was read from."""

    line: int
    text: str
    source: str


@dataclass(frozen=True, slots=True)
class Ask:
    """An open question. `key` names it in the file (`asks`), `about` what it is about, `why` no byte answers it."""

    key: str
    about: str
    why: str
    how: str


@dataclass(frozen=True, slots=True)
class Draft:
    """A draft. `file` is where it was written to, None where nowhere; `pieces` counts what it was drafted from.

    `said` are things about the folder that a person should know, such as a piece that could not be read.
    """

    text: str
    inferred: tuple[DraftedLine, ...]
    asks: tuple[Ask, ...]
    pieces: int
    file: str | None = None
    said: tuple[str, ...] = ()
