"""What would make a kit ready: changes that a person can really make, each set of them judged with the changes made."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from catalogue.shapes.kit import Kit
from catalogue.shapes.why_not import WhyNot


class ChangeKind(StrEnum):
    """A kind of change, the safest first: what brings evidence stands before a person's choice and a person's word."""

    VOUCH = "record-source"
    FETCH = "fetch-again"
    SUPPLY = "supply"
    LISTING = "give-listing"
    HOST = "give-host-fact"
    SETTLE = "settle-family"
    UNPIN = "take-pin-away"
    BENCH = "other-bench"
    ROUTE = "other-route"
    PIN = "pin"
    WORD = "give-word"

    @property
    def rank(self) -> int:
        """0 for the safest."""
        return tuple(ChangeKind).index(self)


@dataclass(frozen=True, slots=True)
class Change:
    """One change. `text` says it in one sentence.

    `piece` is the SHA-256 of an indexed piece: the one to pin, to vouch for, to give a word for, to fetch again, or
    the utility that lacks a companion. `wanted` describes what is missing, as precisely as the family allows: pairs of
    what and which. `supposed`: it was judged with a thing that is not here yet, as described; whether what a person
    brings is that is judged when it comes.
    """

    kind: ChangeKind
    text: str
    role: str | None = None
    piece: str | None = None
    code: str | None = None
    release: str | None = None
    route: str | None = None
    wanted: tuple[tuple[str, str], ...] = ()
    supposed: bool = False

    def asks(self, what: str) -> str:
        """What is wanted of the thing called `what`; "" where nothing is."""
        return dict(self.wanted).get(what, "")


@dataclass(frozen=True, slots=True)
class Proposal:
    """Changes after which the judge says ready. `least`: each part of them was judged, and none is enough."""

    changes: tuple[Change, ...]
    least: bool = True


@dataclass(frozen=True, slots=True)
class Mending:
    """Every proposal found, the safest first. `all_tried` is False where a bound ended the search.

    `stuck` says, where there is no proposal, what nothing here clears.
    """

    proposals: tuple[Proposal, ...] = ()
    all_tried: bool = True
    judged: int = 0
    stuck: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Explained:
    """A kit, and what was asked about it: why pieces were not chosen, what would make it ready (None: not asked)."""

    kit: Kit
    why: tuple[WhyNot, ...] | None = None
    mend: Mending | None = None
