"""The text that words are sought in, and SQLite's index over it (FTS5, three letters at a time)."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, delete, select

from catalogue.store import bulk
from catalogue.store.tables import search

LETTERS = 3


def add(connection: Connection, texts: Sequence[tuple[int, str]]) -> None:
    """Add the texts of new pieces, by rising id."""
    if not texts:
        return
    bulk.insert(connection, search, ("piece_id", "text"), texts)
    if connection.dialect.name == "sqlite":
        ids = [id_ for id_, _text in texts]
        if ids[-1] - ids[0] == len(ids) - 1:
            connection.exec_driver_sql(
                "INSERT INTO search_index(rowid, text) "
                "SELECT piece_id, text FROM search WHERE piece_id BETWEEN ? AND ?",
                (ids[0], ids[-1]),
            )
            return
        for some in bulk.batches(texts):
            marks = ",".join("?" * len(some))
            connection.exec_driver_sql(
                f"INSERT INTO search_index(rowid, text) SELECT piece_id, text FROM search WHERE piece_id IN ({marks})",  # noqa: S608
                tuple(id_ for id_, _text in some),
            )


def put(connection: Connection, texts: Sequence[tuple[int, str]]) -> None:
    """Set the texts of pieces, old or new."""
    texts = [(id_, text) for id_, text in texts]
    old: dict[int, str] = {}
    for some in bulk.batches(id_ for id_, _text in texts):
        rows = select(search.c.piece_id, search.c.text).where(bulk.among(search.c.piece_id, some))
        old.update((id_, text) for id_, text in connection.execute(rows).all())
    texts = [(id_, text) for id_, text in texts if old.get(id_) != text]
    drop(connection, [id_ for id_, _text in texts if id_ in old])
    add(connection, texts)


def drop(connection: Connection, ids: Sequence[int]) -> None:
    """Forget the texts of these pieces. An outside-content index must be told the old text, so it goes first."""
    for some in bulk.batches(ids):
        if connection.dialect.name == "sqlite":
            marks = ",".join("?" * len(some))
            connection.exec_driver_sql(
                "INSERT INTO search_index(search_index, rowid, text) "  # noqa: S608 (question marks)
                f"SELECT 'delete', piece_id, text FROM search WHERE piece_id IN ({marks})",
                tuple(some),
            )
        connection.execute(delete(search).where(bulk.among(search.c.piece_id, some)))


def match(word: str) -> str:
    """An FTS5 query for the pieces whose text holds every three letters of `word`; `instr` must check the rest.

    With detail=none the index knows no positions, so a word is its trigrams, ANDed
    (https://sqlite.org/fts5.html, 4.3.1).
    """
    threes = dict.fromkeys(word[at : at + LETTERS] for at in range(len(word) - LETTERS + 1))
    return " AND ".join('"' + three.replace('"', '""') + '"' for three in threes)
