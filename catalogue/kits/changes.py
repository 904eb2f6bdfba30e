"""A question with changes made, so that the judge itself can say what they bring.

A change never touches what a family teaches; `settle-family` takes the file as it stands, as a person who accepts it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from catalogue.kits.asked import ask
from catalogue.kits.candidate import Candidate, Question
from catalogue.kits.own_identity import ADDRESSES, PREFIX
from catalogue.kits.supposed import NAMED, NOT_HERE, Description, companion, mark, supposed
from catalogue.shapes.card import CardFacts, Said
from catalogue.shapes.host import DriverTrust, Host, SecureBootKey
from catalogue.shapes.kit import Pin, Word
from catalogue.shapes.mending import Change, ChangeKind
from catalogue.shapes.piece import Beside

REASON = "to see what would make the kit ready"
_ORDER = (ChangeKind.BENCH, ChangeKind.ROUTE, ChangeKind.SETTLE, ChangeKind.HOST, ChangeKind.LISTING)
"""What the description of a missing piece depends on is changed first."""
LATER = "a listing saved later"


def changed(question: Question, changes: Iterable[Change]) -> Question:
    """`question` with all of `changes` made, in an order of their own."""
    for one in sorted(changes, key=lambda one: (one.kind not in _ORDER, one.kind.rank, one.text)):
        question = _changed(question, one)
    return question


def _changed(question: Question, one: Change) -> Question:
    match one.kind:
        case ChangeKind.FETCH | ChangeKind.SUPPLY:
            return _brought(question, one)
        case ChangeKind.VOUCH:
            return _each(question, one.piece, lambda piece: replace(piece, vouches=(*piece.vouches, NAMED)))
        case ChangeKind.LISTING:
            return replace(question, cards=_listed(question, one))
        case ChangeKind.HOST:
            return _each(question, one.piece, _trusted)
        case ChangeKind.SETTLE:
            return replace(question, family=replace(question.family, settled=True, problems=()))
        case ChangeKind.UNPIN:
            return replace(question, pins=tuple(pin for pin in question.pins if pin.role != one.role))
        case ChangeKind.BENCH if one.route is None:
            return replace(question, host=_other_bench(question.host, one))
        case ChangeKind.BENCH | ChangeKind.ROUTE:
            return _by_route(question, one.route)
        case ChangeKind.PIN:
            rest = tuple(pin for pin in question.pins if pin.role != one.role)
            return replace(question, pins=(*rest, Pin(one.role or "", one.piece or "", REASON)))
        case ChangeKind.WORD:
            return replace(question, words=(*question.words, Word(one.code or "", one.piece or "", REASON, REASON)))


def _each(question: Question, sha256: str | None, change: object) -> Question:
    assert callable(change)
    return replace(
        question, candidates=tuple(change(one) if one.sha256 == sha256 else one for one in question.candidates)
    )


def _trusted(piece: Candidate) -> Candidate:
    """The piece as one whose programs the destination's saved `db` names."""
    key = SecureBootKey("image-sha256", b"", "its digest", "", 0)
    offsets = {0, *(part.offset for part in piece.reading.parts)}
    held = {at: piece.trust.get(at, DriverTrust("")) for at in offsets}
    return replace(piece, trust={at: replace(trust, trusted=key) for at, trust in held.items()})


def _brought(question: Question, one: Change) -> Question:
    """The question with the piece, or the companion, that is described."""
    name = one.asks("companion")
    if name:
        lies = Beside(name.lower(), mark(f"{name} {one.asks('SHA-256')}"), 1, "opaque")

        def beside(piece: Candidate) -> Candidate:
            rest = tuple(other for other in piece.beside if other.name.casefold() != name.casefold())
            return replace(piece, beside=(*rest, lies))

        found = _each(question, one.piece, beside)
        return replace(found, candidates=(*found.candidates, companion(lies)))
    described = next((each for each in question.family.routes if each.id == one.asks("as by route")), question.route)
    asked = ask(replace(question, route=described))
    wanted = asked.wanted.get(one.role or "")
    if wanted is None:
        return question
    description = Description(one.wanted, one.asks("as version") or None, one.asks("as SHA-256") or None)
    made = supposed(asked, wanted, description, f"{NOT_HERE} for {one.role}")
    new = {piece.sha256 for piece in made}
    return replace(question, candidates=(*(old for old in question.candidates if old.sha256 not in new), *made))


def _listed(question: Question, one: Change) -> tuple[CardFacts, ...]:
    """The cards as a listing will show them: as the route wants them to begin, with the identities it must show."""
    shown = [(name.removeprefix(PREFIX), value) for name, value in one.wanted if name.startswith(PREFIX)]
    identities = {name: Said(value, LATER, 1) for name, value in shown}
    for name, identity in question.family.identities.items():
        if (address := one.asks("address")) and identity.kind in ADDRESSES:
            identities.setdefault(name, Said(address, LATER, 1))
    least = one.asks("version")
    if least:
        told = {role: Said(least, LATER, 1) for card in question.cards for role in card.versions}
        return tuple(replace(card, versions={**card.versions, **told}) for card in question.cards)
    return (*question.cards, CardFacts(LATER, 1, identities=identities))


def _other_bench(host: Host, one: Change) -> Host:
    facts: dict[str, object] = {}
    if one.asks("boots"):
        facts["boots"] = (host.bench.boots or frozenset()) | {one.asks("boots")}
    if one.asks("cpu"):
        facts["cpu"] = int(one.asks("cpu"), 16)
    if one.asks("secure_boot"):
        facts["secure_boot"] = False
    return replace(host, bench=replace(host.bench, **facts))  # type: ignore[arg-type]


def _by_route(question: Question, id_: str | None) -> Question:
    route = next((one for one in question.family.routes if one.id == id_), question.route)
    roles = (*route.needs, *route.may)
    return replace(question, route=route, pins=tuple(pin for pin in question.pins if pin.role in roles))
