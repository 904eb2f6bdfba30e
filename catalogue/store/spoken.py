"""Words as a person lists them: when each was given, and what stood then."""

from __future__ import annotations

import json
from dataclasses import dataclass

from sqlalchemy import LABEL_STYLE_TABLENAME_PLUS_COL, Connection, and_, delete, select

from catalogue.store import bulk
from catalogue.store.recorded import in_force
from catalogue.store.tables import accepted_family, word, word_context


@dataclass(frozen=True, slots=True)
class Context:
    """What stood when a word was given: the family file's SHA-256, the rules' version, where the piece lay.

    `path` is as the file system has it, empty where it lay nowhere.
    """

    family_sha256: str
    rules: int
    path: bytes
    inside: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Spoken:
    """One word on record; `context` is None where it was given before that was kept."""

    code: str
    sha256: str
    reason: str
    by: str
    at: str
    context: Context | None


def spoken(connection: Connection, family: str) -> tuple[Spoken, ...]:
    """The words of a family, the newest first."""
    same = and_(
        word.c.family == word_context.c.family,
        word.c.code == word_context.c.code,
        word.c.sha256 == word_context.c.sha256,
    )
    rows = (
        select(word, word_context)
        .select_from(word.outerjoin(word_context, same))
        .where(word.c.family == family, in_force(word.c.fact))
        .order_by(word.c.at.desc(), word.c.code, word.c.sha256)
    )
    found = []
    for row in connection.execute(rows.set_label_style(LABEL_STYLE_TABLENAME_PLUS_COL)).mappings():
        known = row[word_context.c.rules]
        context = None
        if known is not None:
            inside = tuple(str(one) for one in json.loads(row[word_context.c.inside]))
            then = row[word_context.c.family_sha256].hex()
            context = Context(then, known, row[word_context.c.path], inside)
        sha256 = row[word.c.sha256].hex()
        found.append(Spoken(row[word.c.code], sha256, row[word.c.reason], row[word.c.by], row[word.c.at], context))
    return tuple(found)


def note(connection: Connection, family: str, code: str, sha256: str, one: Context) -> None:
    """Keep what stood when this word was given."""
    forget(connection, family, code, sha256, word_too=False)
    row = (family, code, bytes.fromhex(sha256), bytes.fromhex(one.family_sha256), one.rules, one.path)
    columns = ("family", "code", "sha256", "family_sha256", "rules", "path", "inside")
    bulk.insert(connection, word_context, columns, [(*row, json.dumps(one.inside))])


def forget(connection: Connection, family: str, code: str, sha256: str, *, word_too: bool) -> bool:
    """Take back what is kept of a word, and with `word_too` the word; whether there was one."""
    raw = bytes.fromhex(sha256)
    gone = 0
    for table in (word_context, *((word,) if word_too else ())):
        same = and_(table.c.family == family, table.c.code == code, table.c.sha256 == raw)
        gone = connection.execute(delete(table).where(same)).rowcount
    return gone > 0


def accepted_at(connection: Connection, family: str, sha256: str) -> str:
    """When a person accepted this very family file; "" where nobody did."""
    same = and_(accepted_family.c.family == family, accepted_family.c.sha256 == bytes.fromhex(sha256))
    return connection.execute(select(accepted_family.c.at).where(same)).scalar() or ""
