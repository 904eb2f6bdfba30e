"""Every near piece of a role with its findings, and whether it may be chosen: candidate, waiting or miss."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum

from catalogue.families.model import Release
from catalogue.kits import piece_rules
from catalogue.kits.asked import Asked, Wanted
from catalogue.kits.candidate import Candidate
from catalogue.kits.case import Case, Fellows, case_of
from catalogue.kits.criteria import SILENT, place_of
from catalogue.kits.images import Image
from catalogue.kits.known import Bounds
from catalogue.kits.near import is_near
from catalogue.kits.rule import Rule, failed, run
from catalogue.kits.version_order import Key
from catalogue.kits.vouching import Standing
from catalogue.kits.words import Words
from catalogue.shapes.finding import Finding, Level


class Status(Enum):
    """Whether a near piece may fill its role: yes, once a person has given a word, never."""

    CANDIDATE = 0
    WAITING = 1
    MISS = 2


@dataclass(frozen=True, slots=True)
class Weighed:
    """One near piece in one role, words applied. `beyond`: its version is above all known."""

    case: Case
    findings: tuple[Finding, ...]
    status: Status
    beyond: bool

    @property
    def sha256(self) -> str:
        """The piece."""
        return self.case.sha256

    @property
    def stops(self) -> tuple[Finding, ...]:
        """What still stops it."""
        return tuple(one for one in self.findings if one.level is Level.STOP)


def status_of(findings: Iterable[Finding]) -> Status:
    """What findings (words applied) leave of a piece."""
    stops = [one for one in findings if one.level is Level.STOP]
    if not stops:
        return Status.CANDIDATE
    return Status.WAITING if all(one.clearable for one in stops) else Status.MISS


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
            self._bounded[bounds] = tuple(self._with(one, bounds) for one in self.pieces)
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

    def _with(self, weighed: Weighed, bounds: Bounds) -> Weighed:
        case = replace(weighed.case, bounds=bounds)
        more = _run((one for one in piece_rules.PIECE_RULES if one.by_release), case)
        if not more:
            return weighed
        findings = self.words.apply((*weighed.findings, *more), self.wanted.role.written)
        return Weighed(case, findings, status_of(findings), weighed.beyond)


def weigh(asked: Asked, wanted: Wanted, words: Words, images: Mapping[str, tuple[Image, ...]]) -> Near:
    """Every near piece of the role `wanted`, judged by every rule but those that wait for a release."""
    first: list[tuple[Case, list[Finding]]] = []
    alone = [one for one in piece_rules.PIECE_RULES if not one.by_release and not one.among]
    among = [one for one in piece_rules.PIECE_RULES if one.among]
    for candidate in asked.candidates.values():
        try:
            if not is_near(asked, wanted, candidate, images[candidate.sha256]):
                continue
            case = case_of(asked, wanted, candidate, images[candidate.sha256])
        except Exception as error:
            fault = failed("criteria", error, wanted.role.name, candidate.sha256)
            first.append((_unread(asked, wanted, candidate), [fault]))
            continue
        first.append((case, _run(alone, case)))
    fellows = _fellows(words, wanted, first)
    pieces: list[Weighed] = []
    for case, found in first:
        inside = replace(case, fellows=fellows)
        fits = status_of(words.apply(found, wanted.role.written)) is not Status.MISS
        findings = words.apply((*found, *(_run(among, inside) if fits else ())), wanted.role.written)
        beyond = wanted.known.is_beyond(case.sha256, case.version)
        pieces.append(Weighed(inside, findings, status_of(findings), beyond))
    pins = frozenset(one.sha256 for one in asked.pins.get(wanted.role.name, ()))
    return Near(wanted, words, pins, tuple(pieces))


def _run(rules: Iterable[Rule[Case]], case: Case) -> list[Finding]:
    role, piece = case.wanted.role.name, case.sha256
    return [one for rule in rules for one in run(rule, case, role, piece)]


def _fellows(words: Words, wanted: Wanted, cases: Sequence[tuple[Case, list[Finding]]]) -> Fellows:
    """What fits the role so far, for the rules that look at more than one piece."""
    unnamed: dict[Key, list[tuple[str, str | None, str]]] = {}
    versions: set[Key] = set()
    releases: set[str] = set()
    for case, found in cases:
        if status_of(words.apply(found, wanted.role.written)) is Status.MISS:
            continue
        releases.update(one.name for one in case.claiming)
        key = case.version_key
        if key is None:
            continue
        versions.add(key)
        if not case.standing.named:
            unnamed.setdefault(key, []).append((case.sha256, case.candidate.trimmed, place_of(case.candidate)))
    return Fellows({key: tuple(ones) for key, ones in unnamed.items()}, frozenset(versions), frozenset(releases))


def _unread(asked: Asked, wanted: Wanted, candidate: Candidate) -> Case:
    """The case of a piece whose criteria could not be asked: nothing is known of it."""
    return Case(asked, wanted, candidate, (), (), SILENT, None, Standing("none"), (), "unknown", ())
