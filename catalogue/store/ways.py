"""How to get at the bytes of a piece: the files that hold them, and the positions on the way into archives."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sqlalchemy import Connection, select

from catalogue.store import bulk, names
from catalogue.store.places import MOST_DEPTH, join
from catalogue.store.tables import file, folder, member, piece

MOST_WAYS = 16
"""Ways that are tried for one piece."""


@dataclass(frozen=True, slots=True)
class Way:
    """A file, and the positions in the directories of the archives on the way in, outermost first.

    `inside` are the names at these positions, for people.
    """

    path: bytes
    steps: tuple[int, ...] = ()
    inside: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Ways:
    """The ways to one piece, loose files first."""

    sha256: str
    size: int
    ways: tuple[Way, ...]


def ways_to(connection: Connection, sha256s: Iterable[str]) -> dict[str, Ways]:
    """The ways to each known piece, by SHA-256; a piece that lies nowhere has none."""
    found: dict[str, Ways] = {}
    for some in bulk.batches(bytes.fromhex(one) for one in sha256s):
        rows = select(piece.c.id, piece.c.sha256, piece.c.size).where(piece.c.sha256.in_(some))
        known = connection.execute(rows).all()
        ways = _ways(connection, [id_ for id_, _sha, _size in known], MOST_DEPTH)
        for id_, sha, size in known:
            mine = sorted(ways.get(id_, ()), key=lambda way: (len(way.steps), way.path, way.steps))
            found[sha.hex()] = Ways(sha.hex(), size, tuple(mine[:MOST_WAYS]))
    return found


def _ways(connection: Connection, ids: Iterable[int], depth: int) -> dict[int, list[Way]]:
    found: dict[int, list[Way]] = {}
    into: list[tuple[int, int, int, bytes]] = []
    for some in bulk.batches(dict.fromkeys(ids)):
        loose = select(file.c.piece_id, folder.c.path, file.c.name).join(folder, folder.c.id == file.c.folder_id)
        for id_, path, name in connection.execute(loose.where(bulk.among(file.c.piece_id, some))).all():
            mine = found.setdefault(id_, [])
            if len(mine) < MOST_WAYS:
                mine.append(Way(join(path, name)))
        columns = (member.c.piece_id, member.c.archive_id, member.c.position, member.c.name)
        into += connection.execute(select(*columns).where(bulk.among(member.c.piece_id, some)))
    if into and depth:
        around = _ways(connection, [archive_id for _id, archive_id, _at, _name in into], depth - 1)
        for id_, archive_id, position, raw in into:
            mine = found.setdefault(id_, [])
            for way in around.get(archive_id, ())[: MOST_WAYS - len(mine) if len(mine) < MOST_WAYS else 0]:
                mine.append(Way(way.path, (*way.steps, position), (*way.inside, names.from_bytes(raw))))
    return found
