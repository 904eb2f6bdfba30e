"""What the Shelf's list shows of pieces, quickly."""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, func, select

from catalogue.store import bulk, pieces
from catalogue.store.derived import COM_TITLE
from catalogue.store.places import places_of
from catalogue.store.snapshot import new_since
from catalogue.store.tables import card_id, piece, version_claim

FETCH = 2_000


@dataclass(frozen=True, slots=True)
class Row:
    """A piece in a list. `cards` are the vendors and devices it names, the first image's own first."""

    id: int
    sha256: str
    title: str
    kind: str
    cards: tuple[tuple[int, int], ...]
    version: str
    version_source: str
    size: int
    place: str
    new: bool


def counts(connection: Connection) -> tuple[int, int]:
    """How many pieces there are, and how many of them came with the last indexing, or with one that was cut short."""
    everything = connection.execute(select(func.count()).select_from(piece)).scalar_one()
    fresh = select(func.count()).select_from(piece).where(piece.c.first_run >= new_since(connection))
    return everything, connection.execute(fresh).scalar_one()


def kinds(connection: Connection) -> list[tuple[str, int]]:
    """The kinds there are, each with how many pieces it has, in order."""
    counted = select(piece.c.shown_kind, func.count()).group_by(piece.c.shown_kind).order_by(piece.c.shown_kind)
    return [(kind, count) for kind, count in connection.execute(counted)]


def ids(
    connection: Connection,
    words: Sequence[str],
    cards: Sequence[tuple[int, int]],
    begins: Sequence[str],
    *,
    only_new: bool,
    most: int | None,
    kind: str | None = None,
) -> array[int]:
    """The ids of the pieces that answer to all of these, newest first, the first `most` of them."""
    wanted = pieces.find(
        connection,
        text=" ".join(words),
        cards=cards,
        begins=begins,
        kind=kind,
        since=new_since(connection) if only_new else None,
        limit=most,
    )
    found = array("q")
    result = connection.execute(wanted)
    while some := result.fetchmany(FETCH):
        found.extend(row[0] for row in some)
    return found


def rows(connection: Connection, wanted: Sequence[int]) -> list[Row]:
    """The rows of these pieces, in this order."""
    found = pieces.rows_of(connection, wanted)
    lies = places_of(connection, found, 1)
    newest = new_since(connection)
    cards: dict[int, list[tuple[int, int]]] = {}
    versions: dict[int, tuple[str, str]] = {}
    new: set[int] = set()
    for some in bulk.batches(found):
        c = card_id.c
        named = (
            select(c.piece_id, c.vendor, c.device).where(bulk.among(c.piece_id, some)).order_by(c.piece_id, c.position)
        )
        for id_, vendor, device in connection.execute(named).all():
            cards.setdefault(id_, []).append((vendor, device))
        v = version_claim.c
        claimed = select(v.piece_id, v.value, v.source).where(bulk.among(v.piece_id, some), v.position == 0)
        versions.update((id_, (value, source)) for id_, value, source in connection.execute(claimed).all())
        fresh = select(piece.c.id).where(bulk.among(piece.c.id, some), piece.c.first_run >= newest)
        new.update(connection.execute(fresh).scalars())
    made: list[Row] = []
    for id_ in wanted:
        if id_ not in found:
            continue
        _id, sha, size, stored, kind, title, _format = found[id_]
        places = lies.get(id_, ())
        version, source = versions.get(id_, ("", ""))
        made.append(
            Row(
                id=id_,
                sha256=sha.hex(),
                title=title if kind == stored else COM_TITLE,
                kind=kind,
                cards=tuple(cards.get(id_, ())),
                version=version,
                version_source=source,
                size=size,
                place=str(places[0]) if places else "",
                new=id_ in new,
            )
        )
    return made
