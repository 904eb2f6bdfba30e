"""Read a piece whole: all of a long opaque one, and what only its names say."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace

from catalogue.errors import NotWorkable
from catalogue.formats.reader import FIRST_BYTES
from catalogue.formats.view import BytesView, FileView
from catalogue.intake import fetch
from catalogue.intake.reading import READ_BY, VERSIONS, read_view
from catalogue.shapes.reading import Fault, Reading
from catalogue.store import Store, derived, evidence, rereading
from catalogue.store.found import PieceFound


def reading_of(store: Store, sha256: str) -> Reading:
    """The whole reading of an indexed piece, made anew from its bytes.

    Where they cannot be had any more, or are too long to be unpacked, what was read while indexing, with a note.
    """
    facts = evidence.facts(store, [sha256])[sha256]
    try:
        fresh = _fresh(store, sha256, facts.info.size)
    except NotWorkable as error:
        return replace(facts.reading, notes=(*facts.reading.notes, Fault("not-read-again", str(error))))
    if facts.info.kind != facts.reading.kind or fresh.kind == "opaque":
        fresh = derived.as_named(fresh, facts.info.kind)
    return fresh


def _fresh(store: Store, sha256: str, size: int) -> Reading:
    if size <= fetch.MOST:
        return read_view(BytesView(fetch.piece_bytes(store, sha256)), sha256, whole=True)[0]
    with fetch.open_file(store, sha256) as fd:
        return read_view(FileView(fd, os.fstat(fd).st_size), sha256, whole=True)[0]


def deepen(store: Store, sha256s: Sequence[str]) -> int:
    """Read whole those of these pieces that indexing only glanced at, or that older readers read; how many there were.

    Pieces whose bytes cannot be had stay as they are.
    """
    lacking = rereading.lacking(store, sha256s, READ_BY)
    found: list[PieceFound] = []
    for sha256, data in fetch.each(store, lacking):
        if data is not None:
            reading, depth = read_view(BytesView(data), sha256, whole=True)
            version = VERSIONS.get(reading.format, 0)
            found.append(PieceFound(bytes.fromhex(sha256), len(data), reading, version, depth, head=data[:FIRST_BYTES]))
    rereading.put(store, found, READ_BY)
    return len(found)
