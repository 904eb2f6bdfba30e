"""Write what intake found, in batches: contents once, and the files that hold them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import Connection, delete, func, select, update

from catalogue.shapes.reading import ListEntry
from catalogue.store import bulk, derived, names, reading_text, search_index
from catalogue.store.found import FileFound, PieceFound
from catalogue.store.places import descendants
from catalogue.store.tables import (
    archive,
    card_id,
    digest,
    file,
    kept,
    list_entry,
    member,
    piece,
    reading,
    version_claim,
)

MOST_CLAIMS = 20
"""Version claims of one piece that stand in the table for searching."""
MOST_CACHE = 200_000
_FILE = ("folder_id", "name", "size", "mtime_ns", "ctime_ns", "inode", "piece_id")
_FILE_AGAIN = "ON CONFLICT (folder_id, name) DO UPDATE SET " + ", ".join(f"{c}=excluded.{c}" for c in _FILE[2:])
_PIECE = (
    "id",
    "sha256",
    "size",
    "kind",
    "shown_kind",
    "title",
    "format",
    "reader_version",
    "table_id",
    "first_run",
    "depth",
    "is_list",
)


class Ingest:
    """Writes for one run of index. Not for several threads."""

    def __init__(self, run_id: int, table_id: int) -> None:
        self.run_id = run_id
        self.table_id = table_id
        self.touched: set[int] = set()
        """Pieces that lost a place in this run, and may lie nowhere now."""
        self._known: dict[bytes, tuple[int, tuple[int, bool]]] = {}
        self._folders: dict[int, str] = {}

    def name_folder(self, folder_id: int, path: str) -> None:
        """Tell the path of a folder that files will come from."""
        self._folders[folder_id] = path

    def write(self, connection: Connection, files: Sequence[FileFound]) -> list[int]:
        """Write files and what they hold; the piece of each. The caller's transaction makes it all or nothing."""
        contents: dict[bytes, PieceFound] = {}
        for one in files:
            _collect(one.piece, contents)
        if len(self._known) > MOST_CACHE:
            self._known.clear()
        known, old = self._look_up(connection, contents)
        fresh = [found for sha, found in contents.items() if sha not in known]
        first = (connection.execute(select(func.max(piece.c.id))).scalar() or 0) + 1
        ids = dict(known)
        ids.update((found.sha256, first + number) for number, found in enumerate(fresh))
        again = [contents[sha] for sha in old]
        self._forget_readings(connection, [ids[found.sha256] for found in again])
        lone = self._write_pieces(connection, fresh, again, ids, files)
        self._write_readings(connection, [*fresh, *again], ids)
        members = self._write_archives(connection, [*fresh, *again], ids)
        bulk.insert(connection, file, _FILE, [_file_row(one, ids[one.piece.sha256]) for one in files], _FILE_AGAIN)
        self._write_digests(connection, contents.values(), ids)
        self._follow(connection, files, ids, lone, members)
        done = set(old)
        for sha, found in contents.items():
            if sha not in known or sha in done:
                self._known[sha] = ids[sha], _knows(found)
        return [ids[one.piece.sha256] for one in files]

    def _look_up(
        self, connection: Connection, contents: dict[bytes, PieceFound]
    ) -> tuple[dict[bytes, int], list[bytes]]:
        """Ids of contents known before, and those to write again: read by older readers, or less of them was read."""
        known: dict[bytes, int] = {}
        again: list[bytes] = []
        for some in bulk.batches(sha for sha in contents if not self._settled(sha, contents[sha], known)):
            columns = (piece.c.sha256, piece.c.id, piece.c.table_id, piece.c.depth, archive.c.piece_id)
            rows = select(*columns).outerjoin(archive, archive.c.piece_id == piece.c.id).where(piece.c.sha256.in_(some))
            for sha, id_, table_id, depth, opened in connection.execute(rows):
                known[sha] = id_
                if table_id != self.table_id or _knows(contents[sha]) > (depth, opened is not None):
                    again.append(sha)
        return known, again

    def _settled(self, sha: bytes, found: PieceFound, known: dict[bytes, int]) -> bool:
        """Whether this run has met the content and read all of it; then its id is put into `known`."""
        met = self._known.get(sha)
        if met is None or met[1] < _knows(found):
            return False
        known[sha] = met[0]
        return True

    def _forget_readings(self, connection: Connection, ids: Sequence[int]) -> None:
        for some in bulk.batches(ids):
            lost = connection.execute(select(member.c.piece_id).where(member.c.archive_id.in_(some)).distinct())
            self.touched.update(one for one in lost.scalars() if one)
            for table in (reading, card_id, version_claim, archive):
                connection.execute(delete(table).where(table.c.piece_id.in_(some)))
            connection.execute(delete(list_entry).where(list_entry.c.list_id.in_(some)))
            connection.execute(delete(member).where(member.c.archive_id.in_(some)))

    def _write_pieces(
        self,
        connection: Connection,
        fresh: Sequence[PieceFound],
        again: Sequence[PieceFound],
        ids: dict[bytes, int],
        files: Sequence[FileFound],
    ) -> set[int]:
        """Write the contents; the ids of new ones that lie in exactly one file of this batch, which are done with."""
        at: dict[bytes, FileFound | None] = {}
        for one in files:
            at[one.piece.sha256] = None if one.piece.sha256 in at else one
        rows: list[tuple[Any, ...]] = []
        texts: list[tuple[int, str]] = []
        for found in fresh:
            id_ = ids[found.sha256]
            r = found.reading
            kind = r.kind
            lies = at.get(found.sha256)
            if lies is not None:
                name = names.shown(lies.name)
                kind = derived.shown_kind(kind, found.size, (name,))
                folder_name = self._folders.get(lies.folder_id, "").rstrip("/\\").rsplit("/", 1)[-1]
                versions = [claim.value for part in derived.walk(r) for claim in part.versions]
                texts.append((id_, derived.text_of(kind, r.title, versions, (folder_name, name))))
            rows.append((id_, found.sha256, found.size, r.kind, kind, names.plain(r.title), r.format,
                         found.reader_version, self.table_id, self.run_id, found.depth, bool(r.entries)))  # fmt: skip
        bulk.insert(connection, piece, _PIECE, rows)
        search_index.add(connection, texts)
        for found in again:
            connection.execute(
                update(piece)
                .where(piece.c.id == ids[found.sha256])
                .values(
                    kind=found.reading.kind,
                    title=names.plain(found.reading.title),
                    format=found.reading.format,
                    reader_version=found.reader_version,
                    table_id=self.table_id,
                    depth=found.depth,
                    is_list=bool(found.reading.entries),
                )
            )
        return {id_ for id_, _text in texts}

    def _write_readings(self, connection: Connection, found: Sequence[PieceFound], ids: dict[bytes, int]) -> None:
        readings: list[tuple[Any, ...]] = []
        cards: list[tuple[Any, ...]] = []
        claims: list[tuple[Any, ...]] = []
        entries: list[tuple[Any, ...]] = []
        for one in found:
            r = one.reading
            if reading_text.is_plain(r):
                continue
            id_ = ids[one.sha256]
            readings.append((id_, reading_text.dump(r)))
            cards += [(id_, position, *pair) for position, pair in enumerate(derived.ids_named(r))]
            said = dict.fromkeys((claim.value, claim.source) for part in derived.walk(r) for claim in part.versions)
            claims += [
                (id_, position, names.plain(value), names.plain(source))
                for position, (value, source) in enumerate(list(said)[:MOST_CLAIMS])
            ]
            entries += [(id_, position, *entry_row(entry)) for position, entry in enumerate(r.entries)]
        bulk.insert(connection, reading, ("piece_id", "body"), readings)
        bulk.insert(connection, card_id, ("piece_id", "position", "vendor", "device"), cards)
        bulk.insert(connection, version_claim, ("piece_id", "position", "value", "source"), claims)
        bulk.insert(connection, list_entry, ("list_id", "position", *ENTRY), entries)

    def _write_archives(self, connection: Connection, found: Sequence[PieceFound], ids: dict[bytes, int]) -> set[int]:
        """Write what archives hold; the ids of their members."""
        archives: list[tuple[Any, ...]] = []
        rows: list[tuple[Any, ...]] = []
        for one in found:
            if one.members is None:
                continue
            id_ = ids[one.sha256]
            archives.append((id_, names.plain(one.archive_why)))
            for inner in one.members:
                of = ids[inner.piece.sha256] if inner.piece else None
                rows.append((id_, inner.position, names.to_bytes(inner.name), of, inner.size, inner.crc32,
                             inner.fault, names.plain(inner.why)))  # fmt: skip
        bulk.insert(connection, archive, ("piece_id", "why"), archives)
        columns = ("archive_id", "position", "name", "piece_id", "size", "crc32", "fault", "why")
        bulk.insert(connection, member, columns, rows)
        return {row[3] for row in rows if row[3] is not None}

    def _write_digests(self, connection: Connection, found: Iterable[PieceFound], ids: dict[bytes, int]) -> None:
        rows = [
            (ids[one.sha256], algorithm, value)
            for one in found
            if one.digests
            for algorithm, value in one.digests.items()
        ]
        put_digests(connection, rows)

    def _follow(
        self,
        connection: Connection,
        files: Sequence[FileFound],
        ids: dict[bytes, int],
        lone: set[int],
        members: set[int],
    ) -> None:
        """Renew what depends on places, for all but the plain case of a new content in one file."""
        stale = members | {ids[one.piece.sha256] for one in files}
        lost = {one.replaces for one in files if one.replaces is not None}
        self.touched |= lost
        stale |= lost
        again = stale - lone
        holders = {ids[one.piece.sha256] for one in files if one.piece.members is not None} & again | lost
        if holders:
            again |= descendants(connection, holders)
        derived.renew(connection, again - lone)

    def reread(self, connection: Connection, found: Sequence[PieceFound]) -> None:
        """Put readings in the place of those that were there, for contents that are known and no archives."""
        known, _again = self._look_up(connection, {one.sha256: one for one in found})
        here = [one for one in found if one.sha256 in known]
        ids = [known[one.sha256] for one in here]
        for some in bulk.batches(ids):
            for table in (reading, card_id, version_claim):
                connection.execute(delete(table).where(table.c.piece_id.in_(some)))
            connection.execute(delete(list_entry).where(list_entry.c.list_id.in_(some)))
        self._write_pieces(connection, [], here, known, [])
        self._write_readings(connection, here, known)
        derived.renew(connection, ids)

    def forget_files(self, connection: Connection, gone: Sequence[tuple[int, bytes, int]]) -> None:
        """Files that are no more: folder, name and the piece that lay there."""
        if not gone:
            return
        for folder_id, name, _piece in gone:
            connection.execute(delete(file).where(file.c.folder_id == folder_id, file.c.name == name))
        self.lost(connection, {of for _folder, _name, of in gone})

    def lost(self, connection: Connection, pieces: set[int]) -> None:
        """Some pieces lost a place: renew what depends on it."""
        self.touched |= pieces
        derived.renew(connection, pieces | descendants(connection, pieces))

    def sweep(self, connection: Connection, *, whole: bool) -> int:
        """Forget pieces that lie nowhere any more and are not kept; how many went. `whole`: look at all pieces."""
        went = 0
        fresh = None if whole else set(self.touched)
        while True:
            orphans = _orphans(connection, fresh)
            if not orphans:
                self.touched.clear()
                return went
            went += len(orphans)
            fresh = set()
            for some in bulk.batches(orphans):
                inner = connection.execute(select(member.c.piece_id).where(member.c.archive_id.in_(some)).distinct())
                fresh.update(one for one in inner.scalars() if one)
                search_index.drop(connection, some)
                connection.execute(delete(piece).where(piece.c.id.in_(some)))
            self._known.clear()
            derived.renew(connection, fresh)


ENTRY = ("line", "algorithm", "digest", "name", "base_key")


def entry_row(entry: ListEntry) -> tuple[int, str, bytes, bytes, bytes]:
    """A line of a checksum list as a row."""
    return (
        entry.line,
        entry.algorithm,
        bytes.fromhex(entry.digest),
        names.to_bytes(entry.name),
        names.base_key(entry.name),
    )


def put_digests(connection: Connection, rows: Sequence[tuple[int, str, bytes]]) -> None:
    """Remember further digests of pieces."""
    again = "ON CONFLICT (piece_id, algorithm) DO UPDATE SET value=excluded.value"
    bulk.insert(connection, digest, ("piece_id", "algorithm", "value"), rows, again)


def _knows(found: PieceFound) -> tuple[int, bool]:
    """How much was read of a content."""
    return found.depth, found.members is not None


def _collect(found: PieceFound, into: dict[bytes, PieceFound]) -> None:
    """Every content in a found one, itself too; of the same content the one that more was read of."""
    waiting = [found]
    while waiting:
        one = waiting.pop()
        before = into.get(one.sha256)
        if before is not None and _knows(before) >= _knows(one):
            continue
        into[one.sha256] = one
        waiting.extend(inner.piece for inner in one.members or () if inner.piece is not None)


def _file_row(one: FileFound, piece_id: int) -> tuple[Any, ...]:
    return (
        one.folder_id,
        one.name,
        one.size,
        one.mtime_ns,
        one.ctime_ns,
        one.inode,
        piece_id,
    )


def _orphans(connection: Connection, among: set[int] | None) -> list[int]:
    lies = select(file.c.piece_id).where(file.c.piece_id == piece.c.id).exists()
    inside = select(member.c.piece_id).where(member.c.piece_id == piece.c.id).exists()
    is_kept = select(kept.c.sha256).where(kept.c.sha256 == piece.c.sha256).exists()
    orphan = select(piece.c.id).where(~lies, ~inside, ~is_kept)
    if among is None:
        return list(connection.execute(orphan).scalars())
    found: list[int] = []
    for some in bulk.batches(among):
        found += connection.execute(orphan.where(piece.c.id.in_(some))).scalars()
    return found
