"""Pieces as lists and judges want them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from sqlalchemy import ColumnElement, Connection, Select, and_, column, func, literal_column, or_, select, table

from catalogue.shapes.piece import PieceInfo, Place, Vouch
from catalogue.shapes.reading import CardId, Fault, Reading
from catalogue.store import bulk, derived, reading_text, search_index
from catalogue.store.derived import as_named, walk
from catalogue.store.names import plain
from catalogue.store.places import places_of
from catalogue.store.tables import card_id, piece, reading, search

Row = tuple[int, bytes, int, str, str, str, str]
"""id, sha256, size, kind, shown kind, title, format."""

COLUMNS = (
    piece.c.id,
    piece.c.sha256,
    piece.c.size,
    piece.c.kind,
    piece.c.shown_kind,
    piece.c.title,
    piece.c.format,
)


def everything(connection: Connection) -> Iterator[tuple[str, int, str]]:
    """SHA-256, size and kind of every piece."""
    rows = connection.execute(select(piece.c.sha256, piece.c.size, piece.c.shown_kind).order_by(piece.c.sha256))
    for sha, size, kind in rows:
        yield sha.hex(), size, kind


def ids_of(connection: Connection, sha256s: Iterable[str]) -> dict[str, int]:
    """Ids of the pieces that are known, by SHA-256."""
    found: dict[str, int] = {}
    for some in bulk.batches(bytes.fromhex(one) for one in sha256s):
        rows = connection.execute(select(piece.c.sha256, piece.c.id).where(piece.c.sha256.in_(some)))
        found.update((sha.hex(), id_) for sha, id_ in rows)
    return found


def rows_of(connection: Connection, ids: Iterable[int]) -> dict[int, Row]:
    """Rows by id."""
    found: dict[int, Row] = {}
    for some in bulk.batches(ids):
        for row in connection.execute(select(*COLUMNS).where(bulk.among(piece.c.id, some))).all():
            found[row[0]] = tuple(row)
    return found


def readings_of(connection: Connection, rows: dict[int, Row]) -> dict[int, Reading]:
    """The stored reading of each piece; a plain one is made up from its row."""
    found = {id_: Reading(format=row[6], kind=row[3], title=row[5], length=row[2]) for id_, row in rows.items()}
    for some in bulk.batches(rows):
        bodies = select(reading.c.piece_id, reading.c.body).where(bulk.among(reading.c.piece_id, some))
        for id_, body in connection.execute(bodies).all():
            found[id_] = reading_text.load(body)
    return found


def ids_in(whole: Reading) -> tuple[CardId, ...]:
    """The card IDs of a reading and its parts, equal ones once."""
    return tuple(dict.fromkeys(one for part in walk(whole) for one in part.ids))


def faults_in(whole: Reading) -> tuple[Fault, ...]:
    """The faults of a reading and its parts, equal ones once."""
    return tuple(dict.fromkeys(one for part in walk(whole) for one in part.faults))


def info(row: Row, whole: Reading, places: tuple[Place, ...], vouch: tuple[Vouch, ...] = ()) -> PieceInfo:
    """A piece as lists show it."""
    return PieceInfo(
        sha256=row[1].hex(),
        size=row[2],
        kind=row[4],
        title=whole.title,
        places=places,
        ids=ids_in(whole),
        versions=derived.versions_in(whole),
        faults=faults_in(whole),
        vouch=vouch,
        dates=derived.dates_in(whole),
    )


def naming(connection: Connection, pairs: Iterable[tuple[int, int]]) -> frozenset[str]:
    """The pieces that name any of these vendors and devices."""
    found: set[str] = set()
    for some in bulk.batches(pairs, 200):
        one = [and_(card_id.c.vendor == vendor, card_id.c.device == device) for vendor, device in some]
        rows = select(piece.c.sha256).join(card_id, card_id.c.piece_id == piece.c.id).where(or_(*one))
        found.update(sha.hex() for sha in connection.execute(rows).scalars())
    return frozenset(found)


def beginning(connection: Connection, begins: str, limit: int) -> list[str]:
    """The SHA-256s that begin with these hex digits, at most `limit`, in order."""
    rows = select(piece.c.sha256).where(begins_with(begins)).order_by(piece.c.sha256).limit(limit)
    return [sha.hex() for sha in connection.execute(rows).scalars()]


def begins_with(begins: str) -> ColumnElement[bool]:
    """A condition: the SHA-256 begins with these hex digits."""
    low = bytes.fromhex((begins + "0" * 64)[:64])
    high = bytes.fromhex((begins + "f" * 64)[:64])
    return piece.c.sha256.between(low, high)


def find(
    connection: Connection,
    *,
    kind: str | None = None,
    text: str | None = None,
    cards: Sequence[tuple[int, int]] = (),
    begins: Sequence[str] = (),
    since: int | None = None,
    limit: int | None = None,
) -> Select[int]:
    """A query for the ids of pieces that answer to all of these, newest first.

    `text`: every word must be a substring of the piece's text; one or two letters alone must be its beginning. `begins`
    are beginnings of hashes, `since` the run of index from which on a piece was first met.
    """
    words = [plain(one.casefold()) for one in (text or "").split()]
    wanted = _with_words(connection, words) if words else select(piece.c.id).order_by(piece.c.id.desc())
    narrowed = kind is not None or begins or since is not None
    if words and narrowed:
        wanted = wanted.join(piece, piece.c.id == search.c.piece_id)
    if kind is not None:
        wanted = wanted.where(piece.c.shown_kind == kind)
    if since is not None:
        wanted = wanted.where(piece.c.first_run >= since)
    for one in begins:
        wanted = wanted.where(begins_with(one))
    of = search.c.piece_id if words else piece.c.id
    for vendor, device in cards:
        named = select(card_id.c.piece_id).where(card_id.c.vendor == vendor, card_id.c.device == device)
        wanted = wanted.where(of.in_(named))
    return wanted if limit is None else wanted.limit(limit)


def _with_words(connection: Connection, words: Sequence[str]) -> Select[int]:
    """The ids of the pieces whose text holds every word. On SQLite they come one by one, the first at once."""
    sqlite = connection.dialect.name == "sqlite"
    found = select(search.c.piece_id)
    matches = [match for word in words if (match := search_index.match(word))] if sqlite else []
    if matches:
        found = found.join(_INDEX, _INDEX.c.rowid == search.c.piece_id)
        found = found.where(_INDEX.c.search_index.op("MATCH")(" AND ".join(matches))).order_by(_INDEX.c.rowid.desc())
    else:
        found = found.order_by(search.c.piece_id.desc())
    if len(words) == 1 and len(words[0]) < search_index.LETTERS:
        start, two = words[0], func.substr(search.c.text, literal_column("1"), literal_column("2"))
        near = two == start if len(start) == 2 else (two >= start) & (two < start + _LAST)
        return found.where(near)
    for word in words:
        holds = func.instr(search.c.text, word) > 0 if sqlite else search.c.text.contains(word, autoescape=True)
        found = found.where(holds)
    return found


_INDEX = table("search_index", column("rowid"), column("search_index"))
_LAST = chr(0x10FFFF)


def infos(connection: Connection, ids: Iterable[int]) -> Iterator[tuple[int, PieceInfo]]:
    """Pieces as lists show them, in the order of `ids`, without vouching."""
    for some in bulk.batches(ids):
        rows = rows_of(connection, some)
        readings = readings_of(connection, rows)
        lies = places_of(connection, some)
        for id_ in some:
            if id_ in rows:
                yield id_, info(rows[id_], as_named(readings[id_], rows[id_][4]), lies.get(id_, ()))
