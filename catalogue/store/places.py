"""Where pieces lie: their files, and the ways into archives that hold them."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence

from sqlalchemy import Connection, select

from catalogue.shapes.piece import Place
from catalogue.store import bulk, names
from catalogue.store.tables import file, folder, member, piece

MOST_PLACES = 1_000
"""Places given for one piece; archives of archives can multiply without end."""
LEAST_GATHERED = 64
"""Places gathered before the first are chosen, so that the choice does not hang on the order of rows."""
MOST_DEPTH = 16
"""Archives in archives that are gone up through; intake goes less deep."""


def places_of(connection: Connection, ids: Iterable[int], most: int = MOST_PLACES) -> dict[int, tuple[Place, ...]]:
    """The places of each piece, sorted, at most `most` each; a piece that lies nowhere is absent."""
    found = _places(connection, list(ids), max(most, LEAST_GATHERED), MOST_DEPTH)
    return {id_: tuple(sorted(places, key=_order)[:most]) for id_, places in found.items()}


def _order(place: Place) -> tuple[bytes, tuple[bytes, ...]]:
    return place.path.encode("utf-8", "surrogatepass"), tuple(names.to_bytes(name) for name in place.inside)


def _places(connection: Connection, ids: Sequence[int], most: int, depth: int) -> dict[int, list[Place]]:
    found: dict[int, list[Place]] = {}
    into: list[tuple[int, int, bytes]] = []
    for some in bulk.batches(dict.fromkeys(ids)):
        loose = (
            select(file.c.piece_id, folder.c.path, file.c.name)
            .join(folder, folder.c.id == file.c.folder_id)
            .where(bulk.among(file.c.piece_id, some))
        )
        for id_, path, name in connection.execute(loose).all():
            found.setdefault(id_, []).append(Place(names.shown(join(path, name))))
        inside = select(member.c.piece_id, member.c.archive_id, member.c.name).where(
            bulk.among(member.c.piece_id, some)
        )
        into += [(id_, archive_id, name) for id_, archive_id, name in connection.execute(inside).all()]
    if into and depth:
        around = _places(connection, [archive_id for _id, archive_id, _name in into], most, depth - 1)
        for id_, archive_id, raw in into:
            name = names.from_bytes(raw)
            mine = found.setdefault(id_, [])
            room = most - len(mine)
            mine += [Place(one.path, (*one.inside, name)) for one in around.get(archive_id, [])[: max(0, room)]]
    return {id_: places for id_, places in found.items() if places}


def piece_at(connection: Connection, path: bytes, inside: Sequence[str]) -> str | None:
    """The SHA-256 of the piece at a place; of members with one name, the last."""
    head, name = os.path.split(path)
    at = select(file.c.piece_id).join(folder, folder.c.id == file.c.folder_id)
    id_ = connection.execute(at.where(folder.c.path == head, file.c.name == name)).scalar()
    for one in inside:
        if id_ is None:
            return None
        within = select(member.c.piece_id).where(member.c.archive_id == id_, member.c.name == names.to_bytes(one))
        id_ = connection.execute(within.order_by(member.c.position.desc()).limit(1)).scalar()
    if id_ is None:
        return None
    sha = connection.execute(select(piece.c.sha256).where(piece.c.id == id_)).scalar()
    return None if sha is None else sha.hex()


def join(path: bytes, name: bytes) -> bytes:
    """A folder's path and a name in it."""
    return path + name if path.endswith((b"/", b"\\")) else path + SEPARATOR + name


SEPARATOR = os.fsencode(os.sep)


def descendants(connection: Connection, ids: Iterable[int]) -> set[int]:
    """Every piece that lies in these archives, at any depth."""
    seen: set[int] = set()
    fresh = set(ids)
    for _ in range(MOST_DEPTH):
        found: set[int] = set()
        for some in bulk.batches(fresh):
            found.update(
                one
                for one in connection.execute(
                    select(member.c.piece_id).where(bulk.among(member.c.archive_id, some)).distinct()
                ).scalars()
                if one
            )
        fresh = found - seen
        if not fresh:
            break
        seen |= fresh
    return seen
