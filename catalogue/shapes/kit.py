"""A kit: one choice for every role of a route, with what speaks for and against it."""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.shapes.finding import Finding
from catalogue.shapes.piece import Vouch


@dataclass(frozen=True, slots=True)
class Other:
    """A near piece that was not chosen; `why` lists finding codes, or "older", or "tie"."""

    piece: str
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class KitPiece:
    """A chosen piece as write-out needs it. `name` is a name it had, for a readable 8.3 name; it decides nothing."""

    sha256: str
    size: int
    kind: str
    name: str


@dataclass(frozen=True, slots=True)
class RoleChoice:
    """What was chosen for one role. `vouched_by` is all that speaks for its first piece's bytes, best first.

    fit: yes, no, silent. vouch: signed, named, ran, agreed, neighbour, none. age: current, stale, withdrawn, unknown.
    `pieces` are SHA-256s: the role's own piece first, then its companions. `version_source` says what `version` was
    read from: a digest in a release, the family's pattern, a layout's field, a version resource.
    """

    role: str
    needed: bool
    written: bool
    pieces: tuple[str, ...] = ()
    version: str | None = None
    fit: str = "silent"
    vouch: str = "none"
    age: str = "unknown"
    left_out: bool = False
    others: tuple[Other, ...] = ()
    version_source: str = ""
    vouched_by: tuple[Vouch, ...] = ()


@dataclass(frozen=True, slots=True)
class Pin:
    """A person's choice of a piece for a role, for one kit only; `by` is "" where nobody gave a name."""

    role: str
    sha256: str
    reason: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class Word:
    """A person's decision that clears one code for one content in one family."""

    code: str
    sha256: str
    reason: str
    by: str


@dataclass(frozen=True, slots=True)
class HostUsed:
    """The host file a kit was judged with: its name, where it lay, and the digest of it and all it names."""

    name: str
    file: str
    digest: str


@dataclass(frozen=True, slots=True)
class SavedUsed:
    """A saved text of cards that a kit was judged with: where it lay, and its SHA-256."""

    file: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Kit:
    """The answer to "which pieces, and may they be written?" `verdict` is "ready" or "not-ready".

    `family_sha256` is of the family file judged by; `said` are the one-line remarks that stand beside the verdict
    (what the family does not teach, facts not given, never run). `host` is None where no host file was given;
    `saved` are the texts of cards that were judged with it.
    """

    id: str
    family: str
    family_title: str
    family_sha256: str
    route: str
    verdict: str
    roles: tuple[RoleChoice, ...]
    findings: tuple[Finding, ...]
    pieces: tuple[KitPiece, ...] = ()
    pins: tuple[Pin, ...] = ()
    words: tuple[Word, ...] = ()
    said: tuple[str, ...] = ()
    host: HostUsed | None = None
    saved: tuple[SavedUsed, ...] = ()
