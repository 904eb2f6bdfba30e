"""Which pieces must be read again since the readers have changed.

A table of readers is kept as text (`intake.reading.READ_BY`): for each reader its name, the version of what it
says, the version of what it takes (`sees`), whether it looks for other formats inside, and the bytes it begins
with; for each container its kind, version and readers. Two such texts tell what has changed between them, and what
was kept of a piece (who read it and its parts, and its first bytes) tells whether that touches it. In doubt a piece
is read again.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, and_, func, not_, or_, select, true, update

from catalogue.store import bulk
from catalogue.store.found import UNREAD
from catalogue.store.tables import inner_format, member, piece, reader_table

FAILED = "reader-failed"
"""Stands among the readers of a piece one of them failed on: whatever changes may have mended that."""


@dataclass(frozen=True, slots=True)
class Changed:
    """What is otherwise between two tables of readers.

    Touched are, unless `everything` is: pieces that one of `formats` read, itself or a part of them; where `heads` is
    not None, what some reader takes has changed too: pieces that begin with one of these bytes, and all that readers
    not `alone` read; where `unread`, members too large to be read.
    """

    everything: bool = False
    formats: frozenset[str] = frozenset()
    heads: tuple[bytes, ...] | None = None
    alone: frozenset[str] = frozenset()
    unread: bool = False


EVERYTHING = Changed(everything=True)


def changed(old: str, new: str) -> Changed:
    """What is otherwise in `new`. A text that cannot be understood was another program's: then everything is."""
    try:
        return _changed(json.loads(old), json.loads(new))
    except (ValueError, TypeError, LookupError, AttributeError):
        return EVERYTHING


def _changed(old: dict[str, Any], new: dict[str, Any]) -> Changed:
    before = {row[0]: row for row in old["readers"]}
    today = {row[0]: row for row in new["readers"]}
    both = before.keys() & today.keys()
    turned = [name for name in before if name in both] != [name for name in today if name in both]
    if turned or old["intake"] != new["intake"]:
        return EVERYTHING
    formats = {FAILED, *(before.keys() - both)}
    seen: list[bytes] = []
    sees = False
    for name, (_, version, sight, alone, first) in today.items():
        was = before.get(name)
        if was is None or was[1] != version or was[2:] != [sight, alone, first]:
            formats.add(name)
        if was is None or was[2:] != [sight, alone, first]:
            if not first:
                return EVERYTHING
            sees = True
            seen += [bytes.fromhex(one) for one in first]
    sees = sees or next(reversed(today), "") in formats  # the last row is asked of every part that no other knows
    opens, opened = {row[0]: row for row in new["containers"]}, {row[0]: row for row in old["containers"]}
    otherwise = [kind for kind in opens.keys() | opened.keys() if opens.get(kind) != opened.get(kind)]
    for kind in otherwise:
        formats.update(name for row in (opens.get(kind), opened.get(kind)) if row for name in row[2])
    alone = frozenset(name for name, row in today.items() if row[3])
    return Changed(False, frozenset(formats), tuple(seen) if sees else None, alone, bool(otherwise))


def touched(change: Changed) -> ColumnElement[bool]:
    """Of a row of the table of pieces: whether a change touches it."""
    if change.everything:
        return true()
    names = sorted(change.formats)
    inside = select(inner_format.c.piece_id).where(inner_format.c.name.in_(names))
    found: list[ColumnElement[bool]] = [piece.c.format.in_(names), piece.c.id.in_(inside)]
    if change.unread:
        found.append(piece.c.depth == UNREAD)
    if change.heads is not None:
        found += [piece.c.format.not_in(sorted(change.alone)), piece.c.head.is_(None)]
        found += [func.substr(piece.c.head, 1, len(head)) == head for head in dict.fromkeys(change.heads)]
    return or_(*found)


def changes_since(connection: Connection, table_id: int, readers: str) -> dict[int, Changed]:
    """What has changed since each other table of readers; `table_id` is today's, `readers` its text."""
    others = select(reader_table.c.id, reader_table.c.version).where(reader_table.c.id != table_id)
    return {id_: changed(text, readers) for id_, text in connection.execute(others).all()}


def settle(connection: Connection, table_id: int, readers: str) -> set[int]:
    """Mark as read by today's readers what they would read just so; the pieces that must be read again.

    Archives that hold one of those, however deep, are among them: only through them can it be had.
    """
    for id_, change in changes_since(connection, table_id, readers).items():
        if not change.everything:
            same = and_(piece.c.table_id == id_, not_(touched(change)))
            connection.execute(update(piece).where(same).values(table_id=table_id))
    stale = set(connection.execute(select(piece.c.id).where(piece.c.table_id != table_id)).scalars())
    ahead = stale
    while ahead:
        holding: set[int] = set()
        for some in bulk.batches(ahead):
            rows = select(member.c.archive_id).where(bulk.among(member.c.piece_id, some)).distinct()
            holding.update(connection.execute(rows).scalars())
        ahead = holding - stale
        stale |= ahead
    return stale
