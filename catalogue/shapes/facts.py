"""What people recorded of pieces, as facts that benches hand one another: who said what, when, at which bench.

A fact's id is a digest over all that it says (not over the bench, which it merely came from), so the same fact has the
same id wherever it is. Times are ISO 8601 by UTC, to the second.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, fields
from typing import TypeAlias

from catalogue.shapes.reading import ListEntry

LIST, KEY, WORD, RAN, TAKEN_BACK = "list", "key", "word", "ran", "taken-back"
KINDS = (LIST, KEY, WORD, RAN, TAKEN_BACK)
"""In the order in which a facts file holds them."""


@dataclass(frozen=True, slots=True)
class ListFact:
    """A checksum list came from `source`. `name` is the file's own; `sha256` that of its bytes."""

    by: str
    at: str
    source: str
    name: str
    sha256: str
    entries: tuple[ListEntry, ...]


@dataclass(frozen=True, slots=True)
class KeyFact:
    """A public key came from `source`. `kind` is "openpgp" or "ed25519"; `body` is the key itself."""

    by: str
    at: str
    source: str
    kind: str
    fingerprint: str
    holder: str
    body: bytes


@dataclass(frozen=True, slots=True)
class WordFact:
    """A person's word: it clears `code` for the content `sha256` in `family`."""

    by: str
    at: str
    family: str
    code: str
    sha256: str
    reason: str


@dataclass(frozen=True, slots=True)
class RanFact:
    """A card that compared well after its conversion with this piece in this role.

    `card` is an identity as the listings show it; `subsystem` ("ssss:ssss") and `revision` are the board as they show
    it, "" where they do not. `steps` is a digest of the route's steps. `version` is what the listing afterwards shows
    for the role, "" where it shows none. `before` and `after` are the saved listings themselves.
    """

    by: str
    at: str
    family: str
    family_sha256: str
    route: str
    steps: str
    role: str
    mode: str
    sha256: str
    subsystem: str
    revision: str
    card: str
    kit: str
    version: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class TakenBack:
    """A person took the fact with this id back: it says nothing any more."""

    by: str
    at: str
    fact: str
    reason: str


Said: TypeAlias = ListFact | KeyFact | WordFact | RanFact | TakenBack
KIND_OF: dict[type[Said], str] = {ListFact: LIST, KeyFact: KEY, WordFact: WORD, RanFact: RAN, TakenBack: TAKEN_BACK}


def fact_id(said: Said) -> str:
    """The fact's id, 64 hex digits."""
    values = [_plain(getattr(said, one.name)) for one in fields(said)]
    text = json.dumps([KIND_OF[type(said)], *values], ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def _plain(value: str | bytes | tuple[ListEntry, ...]) -> object:
    if isinstance(value, tuple):
        return [[one.line, one.algorithm, one.digest, one.name] for one in value]
    return value.hex() if isinstance(value, bytes) else value


@dataclass(frozen=True, slots=True)
class Fact:
    """A fact with where it came from. `bench` is "" for one of this bench's own.

    One from elsewhere was taken in by `accepted_by`, out of a file of `sent_by`. `taken_back` says who took it back.
    """

    id: str
    said: Said
    bench: str = ""
    sent_by: str = ""
    accepted_by: str = ""
    accepted_at: str = ""
    taken_back: TakenBack | None = None

    @property
    def kind(self) -> str:
        """One of KINDS."""
        return KIND_OF[type(self.said)]

    @property
    def order(self) -> tuple[int, str, str]:
        """What facts are sorted by: kind, time, id."""
        return KINDS.index(self.kind), self.said.at, self.id


@dataclass(frozen=True, slots=True)
class FamilyFile:
    """A family file that travels with facts: its id, the SHA-256 of its bytes, and its text."""

    id: str
    sha256: str
    text: str


@dataclass(frozen=True, slots=True)
class FactsFile:
    """A facts file: which bench it is from, who sent it, and what it holds, in order."""

    bench: str
    sent_by: str
    facts: tuple[Fact, ...] = ()
    families: tuple[FamilyFile, ...] = ()


def about(said: Said) -> str:
    """What a fact is about, in a few words; unescaped."""
    if isinstance(said, ListFact):
        return f"{said.name}, {len(said.entries)} digests, from {said.source}"
    if isinstance(said, KeyFact):
        holder = f" of {said.holder}" if said.holder else ""
        return f"{said.kind} key {said.fingerprint[:16]}{holder}, from {said.source}"
    if isinstance(said, WordFact):
        return f"{said.code} cleared for {said.sha256[:12]} in {said.family}: {said.reason}"
    if isinstance(said, RanFact):
        return f"{said.sha256[:12]} ran as {said.role} in {said.family}, route {said.route}, on card {said.card}"
    return f"fact {said.fact[:12]} taken back: {said.reason}"
