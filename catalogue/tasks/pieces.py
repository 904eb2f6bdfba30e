"""List the pieces of the catalogue."""

from __future__ import annotations

from dataclasses import replace

from catalogue.shapes.piece import PieceInfo
from catalogue.store import Store, evidence, pieces
from catalogue.tasks.context import Context

BATCH = 500


def run(
    context: Context,
    *,
    kind: str | None = None,
    text: str | None = None,
    card: tuple[int, int] | None = None,
    limit: int | None = None,
) -> list[PieceInfo]:
    """The pieces that answer to all that is given, newest first; all of them without a `limit`.

    `text`: each of its words must be part of the piece's title, kind, versions or the names where it lies, in any case.
    `card`: a vendor and a device that the piece names.
    """
    with Store.open(context.catalogue) as store:
        with store.reading() as connection:
            wanted = pieces.find(connection, kind=kind, text=text, cards=(card,) if card else (), limit=limit)
            ids = list(connection.execute(wanted).scalars())
        found: list[PieceInfo] = []
        for start in range(0, len(ids), BATCH):
            some = ids[start : start + BATCH]
            with store.reading() as connection:
                vouches = evidence.vouches_of(connection, some)
                infos = dict(pieces.infos(connection, some))
            found += [replace(infos[id_], vouch=vouches.get(id_, ())) for id_ in some if id_ in infos]
        return found


def kinds(context: Context) -> tuple[str, ...]:
    """The kinds that the catalogue holds pieces of, in order; empty where it holds none."""
    with Store.open(context.catalogue) as store:
        return tuple(sorted({kind for _, _, kind in store.all_pieces()}))
