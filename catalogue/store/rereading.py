"""Readings made anew for pieces that are known already: of those only glanced at, or read by older readers."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import and_, or_, select

from catalogue.store import bulk, readers, snapshot
from catalogue.store.found import WHOLE, PieceFound
from catalogue.store.ingest import Ingest
from catalogue.store.store import Store
from catalogue.store.tables import archive, piece, reader_table


def lacking(store: Store, sha256s: Sequence[str], table: str) -> list[str]:
    """Those of these pieces, no archives, not read whole, or that the readers of `table` would read otherwise."""
    found: list[str] = []
    with store.reading() as connection:
        today = connection.execute(select(reader_table.c.id).where(reader_table.c.version == table)).scalar() or 0
        older = [
            and_(piece.c.table_id == id_, readers.touched(change))
            for id_, change in readers.changes_since(connection, today, table).items()
        ]
        plain = piece.c.id.not_in(select(archive.c.piece_id))
        for some in bulk.batches(bytes.fromhex(one) for one in sha256s):
            worse = or_(piece.c.depth < WHOLE, *older)
            rows = select(piece.c.sha256).where(piece.c.sha256.in_(some), worse, plain)
            found += [sha.hex() for sha in connection.execute(rows).scalars()]
    return found


def put(store: Store, found: Sequence[PieceFound], table: str) -> None:
    """Keep readings in place of the ones that were there. What archives hold is left as it is."""
    if not found:
        return
    with store.writing() as connection:
        table_id = snapshot.table_of(connection, table)
        Ingest(0, table_id).reread(connection, found)
