"""What kits are judged from: values only, gathered by `catalogue.tasks`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from catalogue.families.model import Family, Route
from catalogue.shapes.card import CardFacts
from catalogue.shapes.host import NO_HOST, DriverTrust, Host
from catalogue.shapes.kit import Pin, SavedUsed, Word
from catalogue.shapes.piece import Beside, Contradiction, Place, SignatureCheck, Vouch
from catalogue.shapes.reading import Fault, Field, LayoutAnswer, Match, Reading


@dataclass(frozen=True, slots=True)
class Candidate:
    """One piece of the catalogue with all that judging needs to know of it.

    `matches` holds, by pattern text, where each of the family's patterns was found in the piece's own bytes; a
    pattern that was looked for and not found is absent. `searched` is False where the bytes could not be searched
    (over the size bound, or unreadable). `layouts` holds one answer a layout of the family. `places` are sorted.
    `member_faults` are faults of the archive entry it was read from, where every place of it has one; `beside_faults`
    those of other entries of its archives.
    `fill` is 0x00 or 0xFF where every byte is that, else None.

    `within` holds the SHA-256s of the archives it lies in, at any depth: a member of an archive that the family itself
    names is named too. `trimmed` is the SHA-256 of the bytes without their last run of one fill byte (00h or FFh),
    None where nobody worked it out: two contents that differ in padding alone share it. `addresses` are what
    `catalogue.kits.addresses.scan` finds in a piece that a layout of the family fits.

    `written_as` is the name it had when it was written out, where it lies nowhere any more but in the catalogue's own
    store.

    `trust` is what a host's saved lists say of each EFI program in it, by the offset of its image (0 for a program).

    `signatures` is what recorded keys say of the signatures that lie beside it.

    Companions (`with` in the family file) are found through `beside`; where one is a candidate too, what speaks
    against its bytes (lists, a damaged archive entry) is known and counts.
    """

    sha256: str
    size: int
    kind: str
    reading: Reading
    places: tuple[Place, ...]
    vouches: tuple[Vouch, ...] = ()
    contradictions: tuple[Contradiction, ...] = ()
    matches: Mapping[str, Match] = field(default_factory=dict)
    searched: bool = True
    layouts: Mapping[str, LayoutAnswer] = field(default_factory=dict)
    fill: int | None = None
    beside: tuple[Beside, ...] = ()
    member_faults: tuple[Fault, ...] = ()
    within: tuple[str, ...] = ()
    trimmed: str | None = None
    addresses: tuple[Field, ...] = ()
    written_as: str = ""
    trust: Mapping[int, DriverTrust] = field(default_factory=dict)
    signatures: tuple[SignatureCheck, ...] = ()
    beside_faults: tuple[Fault, ...] = ()


@dataclass(frozen=True, slots=True)
class Question:
    """One question to the judge: this family, this route, these candidates, as of this day.

    `host` is what is known of the bench host and the destination host; `cards` is what the texts in `saved` tell of
    the cards this kit is for. `ran` holds what cards' after-checks say for pieces, by role and SHA-256, for this mode
    and board; `route_ran` says whether any card of the family has compared well by this route.
    """

    family: Family
    route: Route
    candidates: tuple[Candidate, ...]
    today: date
    pins: tuple[Pin, ...] = ()
    words: tuple[Word, ...] = ()
    ran: Mapping[str, Mapping[str, tuple[Vouch, ...]]] = field(default_factory=dict)
    route_ran: bool = False
    host: Host = NO_HOST
    cards: tuple[CardFacts, ...] = ()
    saved: tuple[SavedUsed, ...] = ()
