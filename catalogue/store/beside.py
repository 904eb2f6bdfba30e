"""What lies beside a piece: in the same folder, or anywhere in the same archive."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, select

from catalogue.shapes.piece import Beside
from catalogue.store import bulk, names
from catalogue.store.tables import file, member, piece

MOST = 5_000
"""Pieces of one bundle that are given."""


def besides(connection: Connection, ids: Sequence[int]) -> dict[int, tuple[Beside, ...]]:
    """The pieces beside each piece, by name; the piece itself is among them.

    One tuple is shared by all pieces of a bundle, so that a folder of a thousand costs a thousand, not a million.
    """
    folders: dict[int, set[int]] = {}
    archives: dict[int, set[int]] = {}
    for some in bulk.batches(ids):
        rows = select(file.c.piece_id, file.c.folder_id).where(bulk.among(file.c.piece_id, some)).distinct()
        for id_, folder_id in connection.execute(rows).all():
            folders.setdefault(id_, set()).add(folder_id)
        inside = select(member.c.piece_id, member.c.archive_id).where(bulk.among(member.c.piece_id, some)).distinct()
        for id_, archive_id in connection.execute(inside).all():
            archives.setdefault(id_, set()).add(archive_id)
    bundles: dict[tuple[str, int], tuple[Beside, ...]] = {}
    joined: dict[frozenset[tuple[str, int]], tuple[Beside, ...]] = {}
    found: dict[int, tuple[Beside, ...]] = {}
    for id_ in ids:
        keys = frozenset(
            [*(("folder", one) for one in folders.get(id_, ())), *(("archive", one) for one in archives.get(id_, ()))]
        )
        if keys not in joined:
            for key in keys - bundles.keys():
                bundles[key] = _bundle(connection, *key)
            together = dict.fromkeys(one for key in sorted(keys) for one in bundles[key])
            joined[keys] = tuple(sorted(together, key=lambda one: (one.name, one.sha256)))[:MOST]
        found[id_] = joined[keys]
    return found


def _bundle(connection: Connection, what: str, number: int) -> tuple[Beside, ...]:
    columns = (piece.c.sha256, piece.c.size, piece.c.shown_kind)
    if what == "folder":
        rows = select(file.c.name, *columns).join(piece, piece.c.id == file.c.piece_id)
        rows = rows.where(file.c.folder_id == number).order_by(file.c.name).limit(MOST)
    else:
        rows = select(member.c.name, *columns).join(piece, piece.c.id == member.c.piece_id)
        rows = rows.where(member.c.archive_id == number).order_by(member.c.position).limit(MOST)
    made: list[Beside] = []
    for name, sha, size, kind in connection.execute(rows).all():
        last = names.shown(name) if what == "folder" else names.last_part(names.from_bytes(name))
        made.append(Beside(last.lower(), sha.hex(), size, kind))
    return tuple(made)
