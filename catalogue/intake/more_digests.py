"""A second look at the few pieces that a list names by something else than SHA-256."""

from __future__ import annotations

import hashlib

from catalogue.errors import NotWorkable
from catalogue.intake import fetch
from catalogue.shapes.progress import Progress
from catalogue.store import Store, lists
from catalogue.store.ingest import put_digests

CHUNK = 1 << 20


def add(store: Store, progress: Progress) -> int:
    """Give every piece the digests that lists of its bundles, and recorded lists, ask for; how many were added.

    Each piece is read once for all of them. Raises Stopped.
    """
    with store.reading() as connection:
        wanted = lists.wanted_digests(connection)
    rows: list[tuple[int, str, bytes]] = []
    for number, (id_, sha256, algorithms) in enumerate(wanted):
        progress.report(number, len(wanted), f"{', '.join(algorithms)} of {sha256[:12]}")
        hashed = [(name, hashlib.new(name, usedforsecurity=False)) for name in algorithms]
        try:
            with fetch.open_piece(store, sha256) as stream:
                while chunk := stream.read(CHUNK):
                    for _name, one in hashed:
                        one.update(chunk)
        except NotWorkable:
            continue
        rows += [(id_, name, one.digest()) for name, one in hashed]
    with store.writing() as connection:
        put_digests(connection, rows)
    return len(rows)
