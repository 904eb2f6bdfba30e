"""Two unrelated archives that hold the same bytes.

Two people who packed the same bytes on their own speak for them: a flipped bit would have to be the same in both. So
two archives count only where nothing says that one was made from the other. They must differ in content (one archive in
two places is one archive); neither may lie in the other, at any depth; and neither may hold everything that the other
holds, for then it may be the same download packed again, with or without more beside it. Where it lies and what it is
called say nothing. The members of a program that carries an archive count like any archive's.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations

from sqlalchemy import Connection, select

from catalogue.store import bulk
from catalogue.store.places import MOST_DEPTH, descendants
from catalogue.store.tables import archive, member

MOST_ARCHIVES = 40
"""Archives around one piece that are compared with one another."""


def agreeing(connection: Connection, ids: Sequence[int], sizes: Mapping[int, int]) -> dict[int, tuple[int, int]]:
    """For each piece that two unrelated archives hold: these two archives. Empty contents agree with nobody."""
    around = {id_: holders for id_, holders in _holders(connection, ids).items() if len(holders) > 1 and sizes.get(id_)}
    wanted = {one for holders in around.values() for one in holders}
    holds = {one: _contents(connection, one) for one in sorted(wanted)}
    found: dict[int, tuple[int, int]] = {}
    for id_, holders in around.items():
        for one, other in combinations(sorted(holders)[:MOST_ARCHIVES], 2):
            if _unrelated(holds[one], holds[other]):
                found[id_] = (one, other)
                break
    return found


def _unrelated(one: frozenset[int], other: frozenset[int]) -> bool:
    """Whether neither holds all that the other holds. (An archive inside another holds nothing that this does not.)"""
    return not (one <= other or other <= one)


def _holders(connection: Connection, ids: Iterable[int]) -> dict[int, set[int]]:
    """The archives that hold each piece, at any depth."""
    found: dict[int, set[int]] = {id_: set() for id_ in ids}
    below: dict[int, set[int]] = {id_: {id_} for id_ in found}
    for _ in range(MOST_DEPTH):
        above: dict[int, set[int]] = {}
        for some in bulk.batches(below):
            rows = select(member.c.piece_id, member.c.archive_id).where(bulk.among(member.c.piece_id, some)).distinct()
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
    inner = select(archive.c.piece_id).where(bulk.among(archive.c.piece_id, everything))
    return frozenset(everything.difference(connection.execute(inner).scalars()))
