"""Public keys that a person recorded, and what they say of signatures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from sqlalchemy import Connection, Row, delete, func, insert, select

from catalogue.shapes.signing import OPENPGP, Key, Verdict
from catalogue.store import bulk, names
from catalogue.store.recorded import origins, where_from
from catalogue.store.snapshot import now
from catalogue.store.tables import recorded_key, signature_answer, taken_back

C = recorded_key.c


@dataclass(frozen=True, slots=True)
class RecordedKey:
    """A key with where a person had it from."""

    id: int
    key: Key
    source: str
    by: str
    at: str = ""
    fact: str = ""
    taken_back: str = ""
    """Who took it back, when and why, in words; "" for a key that stands."""
    where: str = ""
    """Who recorded it, and at which bench, in words."""

    @property
    def name(self) -> str:
        """The key for people: its holder, and how signatures name it."""
        short = (self.key.ids[0] if self.key.ids else self.key.fingerprint)[-16:].upper()
        return f"{self.key.holder} ({short})" if self.key.holder else f"key {short}"

    @property
    def said(self) -> str:
        """Where the key is from, for people."""
        return f"{self.source}{self.where}"


def every(connection: Connection) -> list[RecordedKey]:
    """All recorded keys."""
    rows = connection.execute(select(*recorded_key.columns).order_by(C.id)).all()
    t = taken_back.c
    back = {one.fact: one for one in connection.execute(select(*t)).all()} if rows else {}
    found = []
    elsewhere = origins(connection) if rows else {}
    for row in rows:
        one = back.get(row.fact)
        why = f"{one.by} took the key back on {one.at[:10]}: {one.reason}" if one is not None else ""
        where = where_from(elsewhere, row.fact, row.by)
        found.append(replace(_recorded(row), taken_back=why, where=where))
    return found


def _recorded(row: Row[tuple[object, ...]]) -> RecordedKey:
    m = row._mapping
    key = Key(m["kind"], m["fingerprint"], m["holder"], tuple(m["ids"].split()), m["body"], m["expires"], m["revoked"])
    return RecordedKey(m["id"], key, m["source"], m["by"], m["at"], m["fact"])


def known(connection: Connection, kind: str, fingerprint: str) -> RecordedKey | None:
    """The recorded key with that fingerprint."""
    rows = select(*recorded_key.columns).where(C.kind == kind, C.fingerprint == fingerprint)
    row = connection.execute(rows).first()
    return None if row is None else _recorded(row)


def record(connection: Connection, key: Key, source: str, by: str, at: str = "") -> int:
    """Record a key in place of an earlier record of it, whose revocation is kept; its number.

    `at` is the time of a record that was made elsewhere. What was answered by the earlier one is asked again. Raises
    NotAKeyError where the two cannot be joined.
    """
    from catalogue.formats import openpgp_key

    before = known(connection, key.kind, key.fingerprint)
    if before is not None and key.kind == OPENPGP:
        key = openpgp_key.merged(before.key.body, key.body)
    connection.execute(delete(recorded_key).where(C.kind == key.kind, C.fingerprint == key.fingerprint))
    id_ = (connection.execute(select(func.max(C.id))).scalar() or 0) + 1
    connection.execute(
        insert(recorded_key).values(
            id=id_,
            kind=key.kind,
            fingerprint=key.fingerprint,
            holder=names.plain(key.holder),
            ids=" ".join(key.ids),
            body=key.body,
            expires=key.expires,
            revoked=key.revoked,
            source=names.plain(source),
            by=names.plain(by),
            at=at or now(),
        )
    )
    # A number may come again; answers of its last bearer must not.
    connection.execute(delete(signature_answer).where(signature_answer.c.key_id == id_))
    return id_


@dataclass(frozen=True, slots=True)
class Answer:
    """What a recorded key says of a signature and the piece it is about."""

    signature_id: int
    target_id: int
    key_id: int
    verdict: Verdict


def put_answers(connection: Connection, answers: Sequence[Answer]) -> None:
    """Keep what keys said."""
    rows = [
        (one.signature_id, one.target_id, one.key_id, v.state, v.why, v.algorithm, v.until)
        for one in answers
        if (v := one.verdict)
    ]
    columns = ("signature_id", "target_id", "key_id", "state", "why", "algorithm", "until")
    again = (
        "ON CONFLICT (signature_id, target_id, key_id) DO UPDATE SET "
        "state=excluded.state, why=excluded.why, algorithm=excluded.algorithm, until=excluded.until"
    )
    bulk.insert(connection, signature_answer, columns, rows, again)


def answers_about(connection: Connection, targets: Iterable[int]) -> list[Answer]:
    """What keys said of signatures about these pieces."""
    found: list[Answer] = []
    a = signature_answer.c
    for some in bulk.batches(targets):
        rows = select(a.signature_id, a.target_id, a.key_id, a.state, a.why, a.algorithm, a.until)
        for signature_id, target_id, key_id, *said in connection.execute(
            rows.where(bulk.among(a.target_id, some))
        ).all():
            found.append(Answer(signature_id, target_id, key_id, Verdict(*said)))
    return found


def answered(connection: Connection) -> set[tuple[int, int, int]]:
    """Every signature, piece and key that there is an answer for."""
    a = signature_answer.c
    return {(one, two, three) for one, two, three in connection.execute(select(a.signature_id, a.target_id, a.key_id))}
