"""Two unrelated archives that hold the same bytes.

Two people who packed the same bytes on their own speak for them: a flipped bit would have to be the same in both. So
two archives count only where nothing says that one was made from the other, or both from a third:

- They differ in content (one archive in two places is one archive), and neither lies in the other, at any depth.
- No third archive holds both: then one person packed both.
- They share at most half of what the smaller holds, at any depth, counted by content (empty ones and archives do not
  count): else it may be the same download packed again, with a note taken out and another put in.
- No recorded source names both: then they are two downloads from one place.
- The bytes came out of both soundly: a damaged entry agrees with nobody.

Where an archive lies and what it is called say nothing, and loose copies never agree: a folder may be the one archive
unpacked. The members of a program that carries an archive count like any archive's.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from sqlalchemy import Connection, select

from catalogue.store import bulk
from catalogue.store.places import MOST_DEPTH, descendants
from catalogue.store.tables import archive, member, piece

MOST_ARCHIVES = 40
"""Archives around one piece that are compared with one another."""


DAMAGED = "archive-damaged"
"""Fault of a member whose bytes are in doubt."""

Sources = Callable[[int], frozenset[str]]


def agreeing(
    connection: Connection, ids: Sequence[int], sizes: Mapping[int, int], sources: Sources
) -> dict[int, tuple[int, int]]:
    """For each piece that two unrelated archives hold: these two archives. Empty contents agree with nobody.

    `sources` gives the recorded sources that name an archive.
    """
    around = {id_: holders for id_, holders in _holders(connection, ids).items() if len(holders) > 1 and sizes.get(id_)}
    wanted = {one for holders in around.values() for one in sorted(holders)[:MOST_ARCHIVES]}
    looks = {one: Look(_contents(connection, one), sources(one)) for one in sorted(wanted)}
    for one, above in _holders(connection, sorted(wanted), sound=False).items():
        looks[one] = Look(looks[one].holds, looks[one].sources, frozenset(above | {one}))
    found: dict[int, tuple[int, int]] = {}
    for id_, holders in around.items():
        for one, other in combinations(sorted(holders)[:MOST_ARCHIVES], 2):
            if unrelated(looks[one], looks[other]):
                found[id_] = (one, other)
                break
    return found


@dataclass(frozen=True, slots=True)
class Look:
    """An archive: its contents at any depth, the recorded sources that name it, itself and all archives around it."""

    holds: frozenset[int]
    sources: frozenset[str] = frozenset()
    within: frozenset[int] = frozenset()


def unrelated(one: Look, other: Look) -> bool:
    """Whether nothing says that one was made from the other, or both from a third."""
    if one.within & other.within or one.sources & other.sources:
        return False
    return 2 * len(one.holds & other.holds) <= min(len(one.holds), len(other.holds))


def _holders(connection: Connection, ids: Iterable[int], *, sound: bool = True) -> dict[int, set[int]]:
    """The archives that hold each piece, at any depth; through sound entries alone, unless all are asked for."""
    found: dict[int, set[int]] = {id_: set() for id_ in ids}
    below: dict[int, set[int]] = {id_: {id_} for id_ in found}
    for _ in range(MOST_DEPTH):
        above: dict[int, set[int]] = {}
        for some in bulk.batches(below):
            rows = select(member.c.piece_id, member.c.archive_id).where(bulk.among(member.c.piece_id, some)).distinct()
            rows = rows.where(member.c.fault != DAMAGED) if sound else rows
            for inner, outer in connection.execute(rows).all():
                fresh = {id_ for id_ in below[inner] if outer not in found[id_]}
                if fresh:
                    above.setdefault(outer, set()).update(fresh)
        for outer, held in above.items():
            for id_ in held:
                found[id_].add(outer)
        below = above
        if not below:
            break
    return found


def _contents(connection: Connection, id_: int) -> frozenset[int]:
    """Everything in an archive, at any depth, that is no archive itself."""
    everything = descendants(connection, [id_])
    beside: set[int] = set()
    for some in bulk.batches(sorted(everything)):
        beside.update(
            connection.execute(select(archive.c.piece_id).where(bulk.among(archive.c.piece_id, some))).scalars()
        )
        empty = select(piece.c.id).where(bulk.among(piece.c.id, some), piece.c.size == 0)
        beside.update(connection.execute(empty).scalars())
    return frozenset(everything - beside)
