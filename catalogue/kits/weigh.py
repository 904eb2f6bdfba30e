"""Every near piece of a role with what stops it, and whether it may be chosen: candidate, waiting or miss.

Rules that can stop run on every near piece; cautions and notes are worked out for the pieces that are shown with them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum

from catalogue.families.model import Release
from catalogue.kits import piece_rules
from catalogue.kits.asked import Asked, Wanted
from catalogue.kits.candidate import Candidate
from catalogue.kits.case import Case, Fellows, case_of
from catalogue.kits.criteria import SILENT
from catalogue.kits.images import Image
from catalogue.kits.known import Bounds
from catalogue.kits.near import is_near
from catalogue.kits.rule import Hit, Rule, Weight, failed, finding
from catalogue.kits.vouching import Standing
from catalogue.kits.words import Words
from catalogue.shapes.finding import Finding, Level

STOPPING = (Weight.STOP, Weight.CLEARABLE)


class Status(Enum):
    """Whether a near piece may fill its role: yes, once a person has given a word, never."""

    CANDIDATE = 0
    WAITING = 1
    MISS = 2


@dataclass(slots=True)
class Said:
    """What rules say of one piece: their hits, and the stops for those that raised."""

    hits: list[tuple[Rule[Case], Hit]]
    failed: tuple[Finding, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.hits or self.failed)

    def __add__(self, more: Said) -> Said:
        return Said([*self.hits, *more.hits], (*self.failed, *more.failed))


_NOTHING = Said([])


@dataclass(slots=True, eq=False)
class Weighed:
    """One near piece in one role. `said` is what the rules that can stop say of it.

    `beyond`: its version is above all known. Findings are made when they are asked for: of most pieces nobody asks.
    """

    case: Case
    said: Said
    status: Status
    beyond: bool
    sha256: str
    words: Words

    @property
    def found(self) -> tuple[Finding, ...]:
        """What the rules that can stop say, words applied."""
        return _findings(self.said, self.case, self.words)

    @property
    def codes(self) -> frozenset[str]:
        """The codes of what still stops it."""
        if self.words.given or self.said.failed:
            return frozenset(one.code for one in self.stops)
        return frozenset(rule.code for rule, hit in self.said.hits if (hit.weight or rule.level) in STOPPING)

    @property
    def stops(self) -> tuple[Finding, ...]:
        """What still stops it."""
        return tuple(one for one in self.found if one.level is Level.STOP)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings, cautions and notes too."""
        rest = [one for one in piece_rules.PIECE_RULES if one.level not in STOPPING]
        return self.found if self.case.unread else (*self.found, *_findings(_ask(rest, self.case), self.case, None))


def _status(said: Said, case: Case, words: Words) -> Status:
    """What is left of a piece of which the rules say this, words applied."""
    if said.failed:
        return Status.MISS
    status = Status.CANDIDATE
    if words.given:
        for one in _findings(said, case, words):
            if one.level is Level.STOP:
                if not one.clearable:
                    return Status.MISS
                status = Status.WAITING
        return status
    for rule, hit in said.hits:
        weight = hit.weight or rule.level
        if weight is Weight.STOP:
            return Status.MISS
        if weight is Weight.CLEARABLE:
            status = Status.WAITING
    return status


@dataclass(slots=True)
class Near:
    """The near pieces of one role, by SHA-256, and how they stand under the bounds of a release."""

    wanted: Wanted
    words: Words
    pins: frozenset[str]
    pieces: tuple[Weighed, ...]
    _bounded: dict[Bounds, tuple[Weighed, ...]] = field(default_factory=dict)
    _pools: dict[Bounds | None, tuple[Weighed, ...]] = field(default_factory=dict)

    def under(self, release: Release | None) -> tuple[Weighed, ...]:
        """The near pieces with what the bounds say that hold when `release` is tried (None: piece by piece)."""
        bounds = self.wanted.known.bounds(release)
        if bounds is None:
            return self.pieces
        if bounds not in self._bounded:
            rules = [one for one in piece_rules.PIECE_RULES if one.by_release]
            self._bounded[bounds] = tuple(self._with(one, bounds, rules) for one in self.pieces)
        return self._bounded[bounds]

    def pool(self, release: Release | None) -> tuple[Weighed, ...]:
        """What may fill the role when `release` is tried: the pinned piece; else candidates; else what waits."""
        bounds = self.wanted.known.bounds(release)
        if bounds not in self._pools:
            self._pools[bounds] = self._pool(self.under(release))
        return self._pools[bounds]

    def _pool(self, pieces: tuple[Weighed, ...]) -> tuple[Weighed, ...]:
        if self.pins:
            return tuple(one for one in pieces if one.sha256 in self.pins) if len(self.pins) == 1 else ()
        free = [one for one in pieces if not one.beyond]
        candidates = tuple(one for one in free if one.status is Status.CANDIDATE)
        if candidates or not self.wanted.needed:
            return candidates
        return tuple(one for one in free if one.status is Status.WAITING)

    def _with(self, weighed: Weighed, bounds: Bounds, rules: Sequence[Rule[Case]]) -> Weighed:
        case = weighed.case.under(bounds)
        more = _ask(rules, case)
        if not more:
            return weighed
        said = weighed.said + more
        return Weighed(case, said, _status(said, case, self.words), weighed.beyond, weighed.sha256, self.words)


def weigh(asked: Asked, wanted: Wanted, words: Words, images: Mapping[str, tuple[Image, ...]]) -> Near:
    """Every near piece of the role `wanted`, judged by every rule that can stop but those that wait for a release."""
    stopping = [one for one in piece_rules.PIECE_RULES if one.level in STOPPING and not one.by_release]
    alone = [one for one in stopping if not one.among]
    among = [one for one in stopping if one.among]
    fellows = Fellows()
    first: list[tuple[Case, Said, bool]] = []
    for candidate in asked.candidates.values():
        try:
            if not is_near(asked, wanted, candidate, images[candidate.sha256]):
                continue
            case = case_of(asked, wanted, candidate, images[candidate.sha256], fellows)
        except Exception as error:
            fault = failed("criteria", error, wanted.role.name, candidate.sha256)
            first.append((_unread(asked, wanted, candidate, fellows), Said([], (fault,)), False))
            continue
        said = _ask(alone, case)
        fits = not said or _status(said, case, words) is not Status.MISS
        if fits:
            _add(fellows, case)
        first.append((case, said, fits))
    pins = frozenset(one.sha256 for one in asked.pins.get(wanted.role.name, ()))
    return Near(wanted, words, pins, tuple(_weighed(words, *one, among) for one in first))


def _weighed(words: Words, case: Case, said: Said, fits: bool, among: Sequence[Rule[Case]]) -> Weighed:
    """The piece with what the rules say that look at its fellows; they are asked of pieces that fit."""
    if fits and (more := _ask(among, case)):
        said = said + more
    status = _status(said, case, words) if said else Status.CANDIDATE
    beyond = case.version is not None and case.known.is_beyond(case.sha256, case.version)
    return Weighed(case, said, status, beyond, case.sha256, words)


def _ask(rules: Sequence[Rule[Case]], case: Case) -> Said:
    """What `rules` say; those that raise are stops."""
    try:
        hits = [(rule, hit) for rule in rules for hit in rule.check(case)]
    except Exception:
        return _one_by_one(rules, case)
    return Said(hits) if hits else _NOTHING


def _one_by_one(rules: Sequence[Rule[Case]], case: Case) -> Said:
    hits: list[tuple[Rule[Case], Hit]] = []
    faults: list[Finding] = []
    for rule in rules:
        try:
            hits += [(rule, hit) for hit in rule.check(case)]
        except Exception as error:
            faults.append(failed(rule.code, error, case.wanted.role.name, case.sha256))
    return Said(hits, tuple(faults))


def _findings(said: Said, case: Case, words: Words | None) -> tuple[Finding, ...]:
    """What was said as findings, words applied."""
    role, piece = case.wanted.role, case.sha256
    found = (*(finding(rule, hit, role.name, piece) for rule, hit in said.hits), *said.failed)
    return found if words is None else words.apply(found, role.written)


def _add(fellows: Fellows, case: Case) -> None:
    """Count a piece among those that fit the role."""
    for release in case.claiming:
        fellows.releases.add(release.name)
    key = case.version_key
    if key is None:
        return
    fellows.versions.add(key)
    if not case.standing.named:
        fellows.unnamed.setdefault(key, []).append(case.candidate)
        fellows.trimmed.setdefault(key, set()).add(case.candidate.trimmed)


def _unread(asked: Asked, wanted: Wanted, candidate: Candidate, fellows: Fellows) -> Case:
    """The case of a piece whose criteria could not be asked: nothing is known of it."""
    return Case(asked, wanted, candidate, (), (), SILENT, None, Standing("none"), (), (), fellows, unread=True)
