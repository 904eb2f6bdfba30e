"""A drafted family file: its text, where each line was read from, and what no bytes can tell."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DraftedLine:
    """One line of the draft, counted from 1. `text` is without its comment, `source` says where it was read from.

    `piece` is the SHA-256 of the piece or text it was read from, "" where it comes from several or none; `offset` is
    where in it, None where the whole says it.
    """

    line: int
    text: str
    source: str
    piece: str = ""
    offset: int | None = None


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


@dataclass(frozen=True, slots=True)
class ProvedRoute:
    """How the pieces that a family was drafted from come out by one route; `stops` are its stops as sentences."""

    route: str
    verdict: str
    stops: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Counter:
    """A piece that the family must refuse, taken for a role by hand. `stops` are the codes that refuse it; none: taken.

    `what` says in words what it is.
    """

    route: str
    role: str
    piece: str
    place: str
    what: str
    stops: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Proof:
    """Whether a drafted family shows itself right. `missing` says what is not shown yet; without any, it holds."""

    source: str
    routes: tuple[ProvedRoute, ...] = ()
    counters: tuple[Counter, ...] = ()
    missing: tuple[str, ...] = ()
    said: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Question:
    """An open question of a draft, as it is answered.

    `form` says how: "line" (one text), "choice" (one of `offers`), "choices" (any of them), "rows" (a text for each of
    `rows`), "confirm" (it is so), "effects" (what one command line does), "lines" (lines of the file, written by hand).
    `offers` are values to choose from, or to begin with. `changes` says what an answer changes. `leaves` says what
    "I do not know" does, "" where the question then stays open. `line` is where it is asked in the file, from 1.
    """

    key: str
    about: str
    why: str
    how: str
    form: str
    changes: str
    leaves: str = ""
    rows: tuple[str, ...] = ()
    offers: tuple[str, ...] = ()
    given: tuple[str, ...] = ()
    line: int = 1
