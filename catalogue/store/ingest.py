"""Write what intake found, in batches: contents once, and the files that hold them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import ColumnElement, Connection, delete, func, or_, select, update

from catalogue.shapes.reading import ListEntry
from catalogue.store import bulk, derived, names, reading_text, search_index
from catalogue.store.found import FileFound, PieceFound
from catalogue.store.places import descendants
from catalogue.store.tables import (
    archive,
    card_id,
    digest,
    file,
    inner_format,
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
    "depth",
    "is_list",
    "head",
)


class Ingest:
    """Writes for one run of index. Not for several threads."""

    def __init__(self, run_id: int, table_id: int) -> None:
        self.run_id = run_id
        self.table_id = table_id
        self.touched: set[int] = set()
        """Pieces that lost a place in this run, and may lie nowhere now."""
        self._known: dict[bytes, tuple[int, tuple[int, bool]]] = {}
        self._last: int | None = None
        self._all_known = False

    def write(self, connection: Connection, files: Sequence[FileFound]) -> list[int]:
        """Write files and what they hold; the piece of each. The caller's transaction makes it all or nothing."""
        contents: dict[bytes, PieceFound] = {}
        for one in files:
            found = one.piece
            if found.members is not None or contents.setdefault(found.sha256, found) is not found:
                _collect(found, contents)
        last = connection.execute(select(func.max(piece.c.id))).scalar() or 0
        known, old = self._look_up(connection, contents, last)
        fresh = [found for sha, found in contents.items() if sha not in known]
        ids = dict(known)
        ids.update((found.sha256, id_) for id_, found in enumerate(fresh, last + 1))
        again = [contents[sha] for sha in old]
        held_before = self._forget_readings(connection, [ids[found.sha256] for found in again])
        lone = self._write_pieces(connection, fresh, ids, files)
        self._rewrite_pieces(connection, again, ids)
        self._write_readings(connection, [*fresh, *again], ids)
        members = self._write_archives(connection, [*fresh, *again], ids)
        bulk.insert(connection, file, _FILE, [_file_row(one, ids[one.piece.sha256]) for one in files], _FILE_AGAIN)
        self._follow(connection, files, ids, lone, members | held_before)
        self._remember([*fresh, *again], ids)
        self._last = last + len(fresh)
        return [ids[one.piece.sha256] for one in files]

    def _remember(self, found: Sequence[PieceFound], ids: Mapping[bytes, int]) -> None:
        if len(self._known) > MOST_CACHE:
            self._known.clear()
            self._all_known = False
        for one in found:
            self._known[one.sha256] = ids[one.sha256], _knows(one)

    def _look_up(
        self, connection: Connection, contents: Mapping[bytes, PieceFound], last: int
    ) -> tuple[dict[bytes, int], list[bytes]]:
        """Ids of contents known before, and those to write again: read by older readers, or less of them was read.

        Where the catalogue was empty when this run began, and nobody else has written pieces since, this run knows all
        there is, and the database is not asked.
        """
        if self._last is None:
            self._all_known = last == 0
        elif self._last != last:
            self._all_known = False
        known: dict[bytes, int] = {}
        unsure: list[bytes] = []
        for sha, found in contents.items():
            met = self._known.get(sha)
            if met is None:
                if not self._all_known:
                    unsure.append(sha)
            elif met[1] >= _knows(found):
                known[sha] = met[0]
            else:
                unsure.append(sha)
        again: list[bytes] = []
        columns = (piece.c.sha256, piece.c.id, piece.c.table_id, piece.c.depth, archive.c.piece_id)
        asked = select(*columns).outerjoin(archive, archive.c.piece_id == piece.c.id)
        for some in bulk.batches(unsure):
            for sha, id_, table_id, depth, opened in connection.execute(asked.where(piece.c.sha256.in_(some))).all():
                known[sha] = id_
                if table_id != self.table_id or _knows(contents[sha]) > (depth, opened is not None):
                    again.append(sha)
        return known, again

    def _forget_readings(self, connection: Connection, ids: Sequence[int]) -> set[int]:
        """Forget what was read of contents that are read anew; the pieces that lay in those that are archives."""
        held: set[int] = set()
        for some in bulk.batches(ids):
            rows = connection.execute(select(member.c.piece_id).where(bulk.among(member.c.archive_id, some)).distinct())
            held.update(one for one in rows.scalars() if one)
            for table in (reading, card_id, version_claim, inner_format, archive):
                connection.execute(delete(table).where(bulk.among(table.c.piece_id, some)))
            connection.execute(delete(list_entry).where(bulk.among(list_entry.c.list_id, some)))
            connection.execute(delete(member).where(bulk.among(member.c.archive_id, some)))
        self.touched |= held
        return held

    def _write_pieces(
        self,
        connection: Connection,
        fresh: Sequence[PieceFound],
        ids: Mapping[bytes, int],
        files: Sequence[FileFound],
    ) -> set[int]:
        """Write new contents; the ids of those that lie in one file of this batch alone, which are then done with."""
        at: dict[bytes, FileFound | None] = {}
        for one in files:
            sha = one.piece.sha256
            at[sha] = None if sha in at else one
        rows: list[tuple[Any, ...]] = []
        texts: list[tuple[int, str]] = []
        for found in fresh:
            sha = found.sha256
            id_ = ids[sha]
            r = found.reading
            kind = shown = r.kind
            title = derived.plain_title(r.title)
            lies = at.get(sha)
            if lies is not None:
                name = names.shown(lies.name)
                if kind == "opaque":
                    shown = derived.shown_kind(r.format, kind, found.size, (name,))
                versions = derived.version_values(r) if r.versions or r.parts else ()
                texts.append((id_, derived.text_of(shown, title, versions, (name, lies.folder.name))))
            rows.append(
                (
                    id_,
                    sha,
                    found.size,
                    kind,
                    shown,
                    title,
                    r.format,
                    found.reader_version,
                    found.depth,
                    bool(r.entries),
                    found.head,
                )
            )
        same = (("table_id", self.table_id), ("first_run", self.run_id))
        bulk.insert(connection, piece, _PIECE, rows, same=same)
        search_index.add(connection, texts)
        return {id_ for id_, _text in texts}

    def _rewrite_pieces(self, connection: Connection, again: Sequence[PieceFound], ids: Mapping[bytes, int]) -> None:
        for found in again:
            r = found.reading
            connection.execute(
                update(piece)
                .where(piece.c.id == ids[found.sha256])
                .values(
                    kind=r.kind,
                    title=derived.plain_title(r.title),
                    format=r.format,
                    reader_version=found.reader_version,
                    table_id=self.table_id,
                    depth=found.depth,
                    is_list=bool(r.entries),
                    head=found.head,
                )
            )

    def _write_readings(self, connection: Connection, found: Sequence[PieceFound], ids: Mapping[bytes, int]) -> None:
        readings: list[tuple[Any, ...]] = []
        cards: list[tuple[Any, ...]] = []
        claims: list[tuple[Any, ...]] = []
        entries: list[tuple[Any, ...]] = []
        inside: list[tuple[Any, ...]] = []
        for one in found:
            r = one.reading
            if reading_text.is_plain(r):
                continue
            id_ = ids[one.sha256]
            readings.append((id_, reading_text.dump(r)))
            cards += [(id_, position, *pair) for position, pair in enumerate(derived.ids_named(r))]
            said = dict.fromkeys((claim.value, claim.source) for claim in derived.versions_in(r))
            claims += [
                (id_, position, names.plain(value), names.plain(source))
                for position, (value, source) in enumerate(list(said)[:MOST_CLAIMS])
            ]
            entries += [(id_, position, *entry_row(entry)) for position, entry in enumerate(r.entries)]
            inside += [(id_, name) for name in derived.readers_of(r)]
        bulk.insert(connection, reading, ("piece_id", "body"), readings)
        bulk.insert(connection, card_id, ("piece_id", "position", "vendor", "device"), cards)
        bulk.insert(connection, version_claim, ("piece_id", "position", "value", "source"), claims)
        bulk.insert(connection, list_entry, ("list_id", "position", *ENTRY), entries)
        bulk.insert(connection, inner_format, ("piece_id", "name"), inside)

    def _write_archives(
        self, connection: Connection, found: Sequence[PieceFound], ids: Mapping[bytes, int]
    ) -> set[int]:
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

    def _follow(
        self,
        connection: Connection,
        files: Sequence[FileFound],
        ids: Mapping[bytes, int],
        lone: set[int],
        members: set[int],
    ) -> None:
        """Renew what depends on places, for all but the plain case of a new content in one file.

        What lies in a piece, if it is an archive, lies where that lies: it is renewed with it.
        """
        lost = {one.replaces for one in files if one.replaces is not None}
        self.touched |= lost
        stale = members.union(lost, (ids[one.piece.sha256] for one in files)) - (lone - members)
        derived.renew(connection, stale | descendants(connection, stale))

    def reread(self, connection: Connection, found: Sequence[PieceFound]) -> None:
        """Put readings in the place of those that were there, for contents that are known and no archives."""
        last = connection.execute(select(func.max(piece.c.id))).scalar() or 0
        known, _again = self._look_up(connection, {one.sha256: one for one in found}, last)
        here = [one for one in found if one.sha256 in known]
        ids = [known[one.sha256] for one in here]
        for some in bulk.batches(ids):
            for table in (reading, card_id, version_claim, inner_format):
                connection.execute(delete(table).where(bulk.among(table.c.piece_id, some)))
            connection.execute(delete(list_entry).where(bulk.among(list_entry.c.list_id, some)))
        self._rewrite_pieces(connection, here, known)
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
                inner = connection.execute(
                    select(member.c.piece_id).where(bulk.among(member.c.archive_id, some)).distinct()
                )
                fresh.update(one for one in inner.scalars() if one)
                search_index.drop(connection, some)
                connection.execute(delete(piece).where(bulk.among(piece.c.id, some)))
            self._known.clear()
            self._all_known = False
            derived.renew(connection, fresh | descendants(connection, fresh))


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
    assert one.folder.id is not None
    return (one.folder.id, one.name, *one.stamp, piece_id)


def _orphans(connection: Connection, among: set[int] | None) -> list[int]:
    """Pieces, of `among` or of all, that lie in no file, however deep, and are not kept.

    What lies only in itself lies nowhere: an image can hold itself, by way of others too (told among `among` alone).
    """
    rooted = _rooted()
    around = select(member.c.piece_id).where(member.c.piece_id == piece.c.id, member.c.archive_id != piece.c.id)
    if among is None:
        return list(connection.execute(select(piece.c.id).where(~rooted, ~around.exists())).scalars())
    loose: set[int] = set()
    for some in bulk.batches(among):
        loose.update(connection.execute(select(piece.c.id).where(~rooted, bulk.among(piece.c.id, some))).scalars())
    return sorted(loose - _held(connection, loose))


def _rooted() -> ColumnElement[bool]:
    """Of a row of the table of pieces: whether it lies in a file of its own, or is kept."""
    lies = select(file.c.piece_id).where(file.c.piece_id == piece.c.id).exists()
    return or_(lies, select(kept.c.sha256).where(kept.c.sha256 == piece.c.sha256).exists())


def _held(connection: Connection, ids: set[int]) -> set[int]:
    """Those of these pieces that lie in an archive that lies somewhere, however deep."""
    holds: dict[int, set[int]] = {}
    seen, fresh = set(ids), set(ids)
    while fresh:
        around: set[int] = set()
        for some in bulk.batches(fresh):
            rows = select(member.c.archive_id, member.c.piece_id).where(bulk.among(member.c.piece_id, some))
            for archive_id, id_ in connection.execute(rows.distinct()).all():
                holds.setdefault(archive_id, set()).add(id_)
                around.add(archive_id)
        fresh = around - seen
        seen |= fresh
    found: set[int] = set()
    for some in bulk.batches(holds):
        found.update(connection.execute(select(piece.c.id).where(_rooted(), bulk.among(piece.c.id, some))).scalars())
    ahead = list(found)
    while ahead:
        inner = holds.get(ahead.pop(), set()) - found
        found |= inner
        ahead += inner
    return found & ids
