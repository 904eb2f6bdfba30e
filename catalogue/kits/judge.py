"""From a question to a kit: weigh every near piece, choose, look at the whole, and earn the verdict.

Decisions on sentences of the contract:
- *Ready is earned*: no stop alone does not make a kit ready. Every needed role must be filled by a piece whose fit is
  yes (or whose `fit-unproved` a word cleared), and every written piece be vouched for (or worded); see `earned`.
- Findings stand in order: stops, cautions, notes; then by role in the route's order, the kit's own last; then by rule,
  by piece.
- The words of a kit are those that cleared something in it; a word for another piece leaves the kit and its id alone.
- Where waiting pieces tie, their own stops are findings beside `ambiguous`.
- A needed role that stays empty because what would fill it is beyond all known versions says so (`beyond-known`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from catalogue.kits import kit_rules, piece_rules
from catalogue.kits.asked import Asked, ask
from catalogue.kits.candidate import Candidate, Question
from catalogue.kits.choose import Choice, Pick, choose
from catalogue.kits.criteria import EEPROM
from catalogue.kits.earned import unearned
from catalogue.kits.images import images_of
from catalogue.kits.kit_case import KitCase
from catalogue.kits.kit_id import kit_id
from catalogue.kits.names import readable
from catalogue.kits.others import BEYOND, others
from catalogue.kits.rule import run
from catalogue.kits.rules_kit import said_of_untaught
from catalogue.kits.said_of_hosts import said_of_hosts
from catalogue.kits.weigh import Status, Weighed, weigh
from catalogue.kits.words import words_of
from catalogue.shapes.finding import Finding, Level
from catalogue.shapes.kit import HostUsed, Kit, KitPiece, RoleChoice, Word

MOST_VOUCHES = 12
"""What speaks for a chosen piece is shown that far."""
_LEVELS = (Level.STOP, Level.CAUTION, Level.NOTE)


def judge(question: Question) -> Kit:
    """The kit for `question`: one choice a role, all findings, and the verdict. The same question, the same kit."""
    asked = ask(question)
    words = words_of(question.words)
    images = {sha256: images_of(one.reading) for sha256, one in asked.candidates.items()}
    near = {name: weigh(asked, wanted, words, images) for name, wanted in asked.wanted.items()}
    choice = choose(asked, near, words)
    case = KitCase(asked, choice, words)
    roles = tuple(_role(pick) for pick in choice.picks)
    found = tuple(_findings(case))
    findings = _in_order(asked, (*found, *unearned(case, found)))
    counted = _counted(findings, question.words)
    ready = not any(one.level is Level.STOP for one in findings)
    return Kit(
        id=kit_id(_files(asked), asked.route.id, roles, question.pins, counted, asked.host.digest, question.saved),
        family=asked.family.id,
        family_title=asked.family.title,
        family_sha256=asked.family.sha256,
        route=asked.route.id,
        verdict="ready" if ready else "not-ready",
        roles=roles,
        findings=findings,
        pieces=_pieces(choice),
        pins=tuple(sorted(question.pins, key=lambda one: (one.role, one.sha256, one.reason))),
        words=counted,
        said=tuple(_said(case, ready)),
        host=HostUsed(asked.host.name, asked.host.file, asked.host.digest) if asked.host.digest else None,
        saved=question.saved,
    )


def _files(asked: Asked) -> tuple[str, ...]:
    """The SHA-256s of the family's own file and of those that it stands on."""
    return asked.family.sha256, *asked.family.base


def _role(pick: Pick) -> RoleChoice:
    role, chosen = pick.wanted.role, pick.chosen
    rest = others(pick)
    if chosen is None:
        return RoleChoice(role.name, pick.wanted.needed, role.written, left_out=not pick.wanted.needed, others=rest)
    companions = (one.chosen.sha256 for one in chosen.case.companions if one.chosen is not None)
    return RoleChoice(
        role=role.name,
        needed=pick.wanted.needed,
        written=role.written,
        pieces=tuple(dict.fromkeys((chosen.sha256, *companions))),
        version=chosen.case.version.name if chosen.case.version is not None else None,
        fit=chosen.case.fit,
        vouch=chosen.case.standing.rung,
        age=chosen.case.age,
        others=rest,
        version_source=chosen.case.version.source if chosen.case.version is not None else "",
        vouched_by=chosen.case.standing.said[:MOST_VOUCHES],
    )


def _findings(case: KitCase) -> Iterator[Finding]:
    for pick in case.picks:
        if pick.chosen is not None:
            yield from pick.chosen.findings
        elif pick.tied and pick.wanted.needed:
            yield from (stop for one in pick.tied for stop in one.stops)
        elif pick.wanted.needed and not pick.pins:
            yield from (found for one in pick.near for found in _why_empty(one))
    for rule in kit_rules.KIT_RULES:
        yield from case.words.apply(run(rule, case, None, None), written=False)


def _why_empty(one: Weighed) -> Iterable[Finding]:
    """What a near piece brings to the findings of a needed role that stays empty."""
    if one.status is Status.MISS:
        return one.stops
    return [found for found in one.findings if one.beyond and found.code == BEYOND]


def _in_order(asked: Asked, findings: Iterable[Finding]) -> tuple[Finding, ...]:
    codes = (*(rule.code for rule in piece_rules.PIECE_RULES), *(rule.code for rule in kit_rules.KIT_RULES))
    places = {code: place for place, code in enumerate(codes)}
    roles = {name: wanted.place for name, wanted in asked.wanted.items()}

    def key(one: Finding) -> tuple[object, ...]:
        role = roles.get(one.role or "", len(roles))
        return _LEVELS.index(one.level), role, places.get(one.code, len(codes)), one.piece or "", one.text

    return tuple(sorted(dict.fromkeys(findings), key=key))


def _counted(findings: Iterable[Finding], words: Iterable[Word]) -> tuple[Word, ...]:
    """The words that cleared something."""
    cleared = {(one.code, one.piece) for one in findings if one.cleared_by is not None}
    kept: dict[tuple[str, str], Word] = {}
    for word in words:
        if (word.code, word.sha256) in cleared:
            kept.setdefault((word.code, word.sha256), word)
    return tuple(kept[key] for key in sorted(kept))


def _pieces(choice: Choice) -> tuple[KitPiece, ...]:
    found: dict[str, KitPiece] = {}
    for pick in choice.picks:
        if pick.chosen is None:
            continue
        for one in _with_companions(pick.chosen):
            found.setdefault(one.sha256, one)
    return tuple(found.values())


def _with_companions(chosen: Weighed) -> Iterator[KitPiece]:
    candidate = chosen.case.candidate
    yield KitPiece(candidate.sha256, candidate.size, _kind(chosen, candidate), readable(candidate))
    for one in chosen.case.companions:
        if one.chosen is not None:
            yield KitPiece(one.chosen.sha256, one.chosen.size, one.chosen.kind, one.name)


def _kind(chosen: Weighed, candidate: Candidate) -> str:
    """The piece's kind; an EEPROM image has its kind by the family's layout, never from bytes alone."""
    layout = chosen.case.layout
    return EEPROM if layout is not None and layout.state == "fits" else candidate.kind


def _said(case: KitCase, ready: bool) -> Iterator[str]:
    if not case.asked.route_ran:
        word = "Ready, never run" if ready else "Never run"
        yield f"{word}: no card has yet compared well by this route; convert one trial card first."
    taught = said_of_untaught(case)
    if taught:
        yield taught
    yield from said_of_hosts(case)
