"""One piece for each role: by release, newest first; else piece by piece.

Decisions on sentences of the contract:
- A role's pool is its candidates; where a needed role has none, its waiting pieces. A release is tried with these
  pools, so that a word which turns a waiting piece into a candidate does not change what else is chosen. A needed role
  that has an empty pool under every release fails the kit whatever is taken, and does not tear the others apart.
- Best: named or signed, then the newest version (an unread one last), then the better rung. What is equal in all of
  these ties, except that of contents which differ in padding alone the shorter is taken: they are as good as one.
- A pinned role has a pool of one, whatever its stops; two pins for one role, or one whose bytes are gone, leave it
  empty.
- A piece with a version beyond all known is in no pool unless it is pinned.
- Where a release is taken, a role it does not list takes the best of its pool.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from catalogue.families.model import Release
from catalogue.kits.asked import Asked, Wanted
from catalogue.kits.known import newest_first
from catalogue.kits.weigh import Near, Weighed
from catalogue.kits.words import AMBIGUOUS, Words
from catalogue.shapes.kit import Pin


@dataclass(frozen=True, slots=True)
class Pick:
    """What was chosen for one role.

    `near` are all near pieces as the release tried (or none) leaves them. `tied` are those that tie for best; with
    `by_word` a person's word picked `chosen` among them. `pins` are the pins for the role, whether or not they held.
    """

    wanted: Wanted
    near: tuple[Weighed, ...]
    chosen: Weighed | None = None
    tied: tuple[Weighed, ...] = ()
    by_word: bool = False
    pins: tuple[Pin, ...] = ()

    @property
    def role(self) -> str:
        """The role's name."""
        return self.wanted.role.name

    @property
    def tied_pieces(self) -> frozenset[str]:
        """The SHA-256s of the pieces that tie."""
        return frozenset(one.sha256 for one in self.tied)


@dataclass(frozen=True, slots=True)
class Choice:
    """The picks in the route's order, and the release that was taken, if one was."""

    picks: tuple[Pick, ...]
    release: Release | None


def choose(asked: Asked, near: Mapping[str, Near], words: Words) -> Choice:
    """One pick for every role of the route."""
    releases = newest_first(asked.family.releases)
    hopeful = [
        name
        for name, wanted in asked.wanted.items()
        if wanted.needed and any(near[name].pool(release) for release in (None, *releases))
    ]
    for release in releases if hopeful else ():
        if all(_taken(near[name].wanted, near[name].pool(release), release) for name in hopeful):
            return Choice(tuple(_pick(asked, near[name], words, release) for name in asked.wanted), release)
    return Choice(tuple(_pick(asked, near[name], words, None) for name in asked.wanted), None)


def _taken(wanted: Wanted, pool: Sequence[Weighed], release: Release | None) -> tuple[Weighed, ...]:
    """Of `pool`, what `release` claims; all of it where the release does not list the role."""
    if release is None or wanted.role.name not in release.claims:
        return tuple(pool)
    return tuple(one for one in pool if release in one.case.claiming)


def _pick(asked: Asked, near: Near, words: Words, release: Release | None) -> Pick:
    wanted = near.wanted
    pins = asked.pins.get(wanted.role.name, ())
    pool = near.pool(release)
    pieces = near.under(release)
    if pins:
        return Pick(wanted, pieces, pool[0] if pool else None, pins=pins)
    best = _best(wanted, _taken(wanted, pool, release))
    if len(best) < 2:
        return Pick(wanted, pieces, best[0] if best else None)
    worded = [one for one in best if words.get(AMBIGUOUS, one.sha256) is not None]
    return Pick(wanted, pieces, worded[0] if len(worded) == 1 else None, best, by_word=len(worded) == 1)


def rank(wanted: Wanted, one: Weighed) -> tuple[object, ...]:
    """What makes a piece better than another of its role; the higher the better."""
    version = one.case.version_key
    return one.case.standing.named, version is not None, version or (), -one.case.standing.rank


def _best(wanted: Wanted, pool: Sequence[Weighed]) -> tuple[Weighed, ...]:
    """The best of `pool`: one, or all that tie."""
    if not pool:
        return ()
    ranks = [rank(wanted, one) for one in pool]
    highest = max(ranks)
    best = [one for one, its in zip(pool, ranks, strict=True) if its == highest]
    trimmed = {one.case.candidate.trimmed for one in best}
    if len(best) > 1 and len(trimmed) == 1 and None not in trimmed:
        shortest = min(one.case.candidate.size for one in best)
        best = [one for one in best if one.case.candidate.size == shortest]
    return tuple(best)
