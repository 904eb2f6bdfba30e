"""Readings made anew for pieces that are known already."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import select

from catalogue.store import bulk, snapshot
from catalogue.store.found import WHOLE, PieceFound
from catalogue.store.ingest import Ingest
from catalogue.store.store import Store
from catalogue.store.tables import piece


def lacking(store: Store, sha256s: Sequence[str]) -> list[str]:
    """Those of these pieces that were not read whole."""
    found: list[str] = []
    with store.reading() as connection:
        for some in bulk.batches(bytes.fromhex(one) for one in sha256s):
            rows = select(piece.c.sha256).where(piece.c.sha256.in_(some), piece.c.depth < WHOLE)
            found += [sha.hex() for sha in connection.execute(rows).scalars()]
    return found


def put(store: Store, found: Sequence[PieceFound], readers: str) -> None:
    """Keep readings in place of the ones that were there. What archives hold is left as it is."""
    if not found:
        return
    with store.writing() as connection:
        table_id = snapshot.table_of(connection, readers)
        Ingest(0, table_id).reread(connection, found)
