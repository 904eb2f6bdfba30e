"""Every near piece of a role with what stops it, and whether it may be chosen: candidate, waiting or miss.

Rules that can stop run on every near piece; cautions and notes are worked out for the pieces that are shown with them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
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
from catalogue.kits.rule import Rule, Weight, failed, finding, run
from catalogue.kits.vouching import Standing
from catalogue.kits.words import Words
from catalogue.shapes.finding import Finding, Level

STOPPING = (Weight.STOP, Weight.CLEARABLE)


class Status(Enum):
    """Whether a near piece may fill its role: yes, once a person has given a word, never."""

    CANDIDATE = 0
    WAITING = 1
    MISS = 2


@dataclass(slots=True, eq=False)
class Weighed:
    """One near piece in one role. `found` is what the rules that can stop say, words applied.

    `beyond`: its version is above all known.
    """

    case: Case
    found: tuple[Finding, ...]
    status: Status
    beyond: bool
    sha256: str
    words: Words

    @property
    def stops(self) -> tuple[Finding, ...]:
        """What still stops it."""
        return tuple(one for one in self.found if one.level is Level.STOP)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings, cautions and notes too."""
        rest = [one for one in piece_rules.PIECE_RULES if one.level not in STOPPING]
        return self.found if self.case.unread else (*self.found, *_run(rest, self.case))


def status_of(findings: Iterable[Finding]) -> Status:
    """What findings (words applied) leave of a piece."""
    status = Status.CANDIDATE
    for one in findings:
        if one.level is Level.STOP:
            if not one.clearable:
                return Status.MISS
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
        more = _run(rules, case)
        if not more:
            return weighed
        found = self.words.apply((*weighed.found, *more), self.wanted.role.written)
        return Weighed(case, found, status_of(found), weighed.beyond, weighed.sha256, self.words)


def weigh(asked: Asked, wanted: Wanted, words: Words, images: Mapping[str, tuple[Image, ...]]) -> Near:
    """Every near piece of the role `wanted`, judged by every rule that can stop but those that wait for a release."""
    stopping = [one for one in piece_rules.PIECE_RULES if one.level in STOPPING and not one.by_release]
    alone = [one for one in stopping if not one.among]
    among = [one for one in stopping if one.among]
    fellows = Fellows()
    first: list[tuple[Case, list[Finding], bool]] = []
    for candidate in asked.candidates.values():
        try:
            if not is_near(asked, wanted, candidate, images[candidate.sha256]):
                continue
            case = case_of(asked, wanted, candidate, images[candidate.sha256], fellows)
        except Exception as error:
            fault = failed("criteria", error, wanted.role.name, candidate.sha256)
            first.append((_unread(asked, wanted, candidate, fellows), [fault], False))
            continue
        found = _run(alone, case)
        fits = not found or status_of(words.apply(found, wanted.role.written)) is not Status.MISS
        if fits:
            _add(fellows, case)
        first.append((case, found, fits))
    pins = frozenset(one.sha256 for one in asked.pins.get(wanted.role.name, ()))
    return Near(wanted, words, pins, tuple(_weighed(words, *one, among) for one in first))


def _weighed(words: Words, case: Case, found: list[Finding], fits: bool, among: Sequence[Rule[Case]]) -> Weighed:
    """The piece with what the rules say that look at its fellows; they are asked of pieces that fit."""
    if fits:
        found += _run(among, case)
    applied = words.apply(found, case.wanted.role.written) if found else ()
    beyond = case.known.is_beyond(case.sha256, case.version)
    return Weighed(case, applied, status_of(applied), beyond, case.sha256, words)


def _run(rules: Sequence[Rule[Case]], case: Case) -> list[Finding]:
    """What `rules` find; those that raise are stops."""
    role, piece = case.wanted.role.name, case.sha256
    try:
        return [finding(rule, hit, role, piece) for rule in rules for hit in rule.check(case)]
    except Exception:
        return [one for rule in rules for one in run(rule, case, role, piece)]


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
