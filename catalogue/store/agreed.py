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
from catalogue.store.places import MOST_DEPTH
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
            if _unrelated(one, other, holds):
                found[id_] = (one, other)
                break
    return found


def _unrelated(one: int, other: int, holds: Mapping[int, tuple[frozenset[int], frozenset[int]]]) -> bool:
    all_one, bare_one = holds[one]
    all_other, bare_other = holds[other]
    if other in all_one or one in all_other:
        return False
    return not (bare_one <= bare_other or bare_other <= bare_one)


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


def _contents(connection: Connection, id_: int) -> tuple[frozenset[int], frozenset[int]]:
    """Everything in an archive at any depth, and of it what is no archive itself."""
    everything: set[int] = set()
    archives: set[int] = set()
    fresh = {id_}
    for _ in range(MOST_DEPTH):
        found: set[int] = set()
        for some in bulk.batches(fresh):
            rows = select(member.c.piece_id).where(bulk.among(member.c.archive_id, some)).distinct()
            found.update(one for one in connection.execute(rows).scalars() if one is not None)
            archives.update(
                connection.execute(select(archive.c.piece_id).where(bulk.among(archive.c.piece_id, some))).scalars()
            )
        fresh = found - everything
        everything |= found
        if not fresh:
            break
    return frozenset(everything), frozenset(everything - archives)
