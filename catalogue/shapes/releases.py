"""Releases as they are told of: what a maker's notes mention, and what a person says is a release."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from catalogue.shapes.results import FileProblem


@dataclass(frozen=True, slots=True)
class Mention:
    """A version that a notes text mentions, and the day that stands nearest to it; offered, never believed by itself.

    `offset` and `day_offset` are bytes in the file, `line` counts from 1, `text` is that line. `day` is ISO 8601, or as
    it is written where day and month may be exchanged; "" where no day stands near.
    """

    version: str
    offset: int
    line: int
    text: str
    day: str = ""
    day_offset: int = 0


@dataclass(frozen=True, slots=True)
class NewRelease:
    """A release that a person adds: its versions by role, where that was read, who says so.

    `as_of` is the day that all the family knows is of from now on, None to leave it.
    """

    name: str
    day: date
    versions: Mapping[str, str] = field(default_factory=dict)
    mix: str = "stop"
    source: str = ""
    by: str = ""
    as_of: date | None = None


@dataclass(frozen=True, slots=True)
class AddedRelease:
    """What became of it. With `problems` nothing was written; else `line` is where the release stands in `file`."""

    file: str
    line: int = 0
    sha256: str = ""
    problems: tuple[FileProblem, ...] = ()
