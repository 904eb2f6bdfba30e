"""What the catalogue remembers of folders and files, for comparing with what is there now; and the runs of index."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import Connection, delete, func, insert, select, update

from catalogue.store import bulk, names, readers
from catalogue.store.found import Folder, Stamp
from catalogue.store.tables import (
    archive,
    file,
    folder,
    intake_folder,
    member,
    piece,
    reader_table,
    run,
    unreadable,
)

Known = tuple[Stamp, int, bool]
"""The stamp, the piece, and whether today's readers would read it, and what it holds, just so."""


@dataclass(frozen=True, slots=True)
class Run:
    """A run of index: its number, that of its table of readers, whether the last run was cut short, and the pieces that
    must be read again since readers have changed."""

    id: int
    table_id: int
    cut: bool
    stale: set[int]


def now() -> str:
    """This moment by UTC, ISO 8601."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def begin_run(connection: Connection, table: str) -> Run:
    """Begin a run of index by this table of readers."""
    id_ = (connection.execute(select(func.max(run.c.id))).scalar() or 0) + 1
    cut = connection.execute(select(run.c.id).where(run.c.finished.is_(None)).limit(1)).scalar() is not None
    connection.execute(insert(run).values(id=id_, started=now()))
    table_id = table_of(connection, table)
    return Run(id_, table_id, cut, readers.settle(connection, table_id, table))


def table_of(connection: Connection, table: str) -> int:
    """The number of a table of readers, given where it has none yet."""
    table_id = connection.execute(select(reader_table.c.id).where(reader_table.c.version == table)).scalar()
    if table_id is None:
        table_id = (connection.execute(select(func.max(reader_table.c.id))).scalar() or 0) + 1
        connection.execute(insert(reader_table).values(id=table_id, version=table))
    return table_id


def end_run(connection: Connection, id_: int) -> None:
    """A run went through; whatever earlier ones left open is settled by it."""
    connection.execute(update(run).where(run.c.finished.is_(None), run.c.id <= id_).values(finished=now()))


def last_run(connection: Connection) -> int:
    """The number of the last run of index that went through; 0 for none."""
    return connection.execute(select(func.max(run.c.id)).where(run.c.finished.is_not(None))).scalar() or 0


def new_since(connection: Connection) -> int:
    """The first run of index whose pieces count as new: the oldest that was not finished, else the last that was."""
    cut = connection.execute(select(func.min(run.c.id)).where(run.c.finished.is_(None))).scalar()
    return last_run(connection) if cut is None else int(cut)


def add_intake_folder(connection: Connection, path: bytes) -> None:
    """Remember what a person asked to index."""
    bulk.insert(connection, intake_folder, ("path", "added"), [(path, now())], "ON CONFLICT (path) DO NOTHING")


def folders_under(connection: Connection, root: bytes, separator: bytes) -> dict[bytes, int]:
    """The known folders at or under `root`, by path."""
    found = dict(connection.execute(select(folder.c.path, folder.c.id).where(folder.c.path == root)).all())
    stem = root if root.endswith(separator) else root + separator
    inside = select(folder.c.path, folder.c.id).where(
        folder.c.path >= stem, folder.c.path < stem[:-1] + _next(separator)
    )
    found.update(connection.execute(inside).all())
    return found


def _next(separator: bytes) -> bytes:
    return bytes((separator[0] + 1,))


def name_folders(connection: Connection, folders: Iterable[Folder]) -> None:
    """Give ids to the folders that have none yet."""
    fresh = [one for one in folders if one.id is None]
    if not fresh:
        return
    known: dict[bytes, int] = {}
    for some in bulk.batches(one.path for one in fresh):
        known.update(connection.execute(select(folder.c.path, folder.c.id).where(folder.c.path.in_(some))).all())
    next_id = (connection.execute(select(func.max(folder.c.id))).scalar() or 0) + 1
    rows: list[tuple[int, bytes]] = []
    for one in fresh:
        if one.path not in known:
            known[one.path] = next_id + len(rows)
            rows.append((known[one.path], one.path))
        one.id = known[one.path]
    bulk.insert(connection, folder, ("id", "path"), rows)


def folder_id(connection: Connection, path: bytes) -> int | None:
    """The id of a known folder."""
    return connection.execute(select(folder.c.id).where(folder.c.path == path)).scalar()


def files_in(connection: Connection, ids: Sequence[int], stale: Container[int]) -> dict[int, dict[bytes, Known]]:
    """The files remembered in each folder, by name. `stale` are the pieces that must be read again."""
    found: dict[int, dict[bytes, Known]] = {id_: {} for id_ in ids}
    columns = (
        file.c.folder_id,
        file.c.name,
        file.c.size,
        file.c.mtime_ns,
        file.c.ctime_ns,
        file.c.inode,
        file.c.piece_id,
    )
    rows = select(*columns)
    for some in bulk.batches(ids, 500):
        for of, name, size, mtime, ctime, inode, piece_id in connection.execute(
            rows.where(bulk.among(file.c.folder_id, some))
        ).all():
            found[of][name] = ((size, mtime, ctime, inode), piece_id, piece_id not in stale)
    return found


def drop_folders(connection: Connection, ids: Sequence[int]) -> tuple[int, set[int]]:
    """Forget folders that are no more: how many files went, and the pieces that lay in them."""
    went = 0
    pieces: set[int] = set()
    for some in bulk.batches(ids):
        lost = connection.execute(select(file.c.piece_id).where(bulk.among(file.c.folder_id, some))).scalars().all()
        went += len(lost)
        pieces.update(lost)
        connection.execute(delete(file).where(bulk.among(file.c.folder_id, some)))
        connection.execute(delete(folder).where(bulk.among(folder.c.id, some)))
    return went, pieces


def set_unreadable(connection: Connection, root: bytes, separator: bytes, rows: Sequence[tuple[bytes, str]]) -> None:
    """What could not be read at or under `root`, in place of what was said before."""
    stem = root if root.endswith(separator) else root + separator
    connection.execute(
        delete(unreadable).where(
            (unreadable.c.path == root)
            | ((unreadable.c.path >= stem) & (unreadable.c.path < stem[:-1] + _next(separator)))
        )
    )
    again = "ON CONFLICT (path) DO UPDATE SET why=excluded.why"
    bulk.insert(connection, unreadable, ("path", "why"), list(dict(rows).items()), again)


def troubled_archives(connection: Connection, among: Iterable[int]) -> dict[int, list[tuple[str | None, str]]]:
    """Archives that could not be read through: by piece, what was wrong (None) as a whole or with which member."""
    found: dict[int, list[tuple[str | None, str]]] = {}
    within = archives_among(connection, among)
    whole = select(archive.c.piece_id, archive.c.why).where(archive.c.why != "")
    inner = select(member.c.archive_id, member.c.name, member.c.why).where(member.c.why != "")
    for some in bulk.batches(sorted(within)):
        for id_, why in connection.execute(whole.where(bulk.among(archive.c.piece_id, some))).all():
            found.setdefault(id_, []).append((None, why))
        rows = inner.where(bulk.among(member.c.archive_id, some)).order_by(member.c.archive_id, member.c.position)
        for id_, name, why in connection.execute(rows).all():
            found.setdefault(id_, []).append((names.from_bytes(name), why))
    return found


def archives_among(connection: Connection, ids: Iterable[int]) -> set[int]:
    """Which of these pieces are archives that were opened."""
    return set(connection.execute(select(archive.c.piece_id)).scalars()).intersection(ids)


def sha256s(connection: Connection, ids: Iterable[int]) -> dict[int, bytes]:
    """SHA-256s by id."""
    found: dict[int, bytes] = {}
    for some in bulk.batches(ids):
        rows = connection.execute(select(piece.c.id, piece.c.sha256).where(bulk.among(piece.c.id, some)))
        found.update(rows.all())
    return found
