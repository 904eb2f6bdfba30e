"""What people recorded, as facts: to be listed, handed to another bench, taken in from one, and taken back.

The records themselves lie in the tables that judging asks (`recorded_list`, `recorded_key`, `word`, `ran`). Here each
has its id, where it came from, and whether it was taken back. A fact that was taken back stays known and says nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sqlalchemy import Connection, delete, insert, select, update

from catalogue.shapes.facts import Fact, KeyFact, ListFact, RanFact, Said, TakenBack, WordFact, fact_id
from catalogue.shapes.kit import Word
from catalogue.shapes.reading import ListEntry
from catalogue.shapes.signing import Key
from catalogue.store import bulk, keys, names, recorded
from catalogue.store.tables import (
    fact_from,
    ran,
    recorded_entry,
    recorded_key,
    recorded_list,
    taken_back,
    this_bench,
    word,
)


def every(connection: Connection) -> list[Fact]:
    """All facts, in the order of a facts file."""
    origins = {row.fact: row for row in connection.execute(select(*fact_from.columns)).all()}
    back = takings_back(connection)
    said: list[Said] = [*_lists(connection), *_keys(connection), *_words(connection), *rans(connection, every=True)]
    found = []
    for one in (*said, *back.values()):
        id_ = fact_id(one)
        origin = origins.get(id_)
        bench, sent, by, at = origin[1:] if origin is not None else ("", "", "", "")
        found.append(Fact(id_, one, bench, sent, by, at, back.get(id_)))
    return sorted({one.id: one for one in found}.values(), key=lambda one: one.order)


def _lists(connection: Connection) -> Iterable[ListFact]:
    l, e = recorded_list.c, recorded_entry.c  # noqa: E741 (short-lived)
    for id_, sha256, place, source, by, at in connection.execute(
        select(l.id, l.sha256, l.place, l.source, l.by, l.at).order_by(l.id)
    ).all():
        rows = select(e.algorithm, e.digest, e.name, e.line).where(e.list_id == id_).order_by(e.position)
        entries = tuple(
            ListEntry(algorithm, digest.hex(), names.from_bytes(name), line)
            for algorithm, digest, name, line in connection.execute(rows).all()
        )
        yield ListFact(by, at, source, last_name(place), sha256.hex(), entries)


def last_name(place: bytes) -> str:
    """The name of a recorded list's file; where it lay here is of no use to another bench."""
    return names.last_part(names.shown(place))


def _keys(connection: Connection) -> Iterable[KeyFact]:
    k = recorded_key.c
    rows = select(k.by, k.at, k.source, k.kind, k.fingerprint, k.holder, k.body).order_by(k.id)
    return (KeyFact(*row) for row in connection.execute(rows).all())


def _words(connection: Connection) -> Iterable[WordFact]:
    w = word.c
    rows = select(w.by, w.at, w.family, w.code, w.sha256, w.reason)
    for by, at, family, code, sha256, reason in connection.execute(rows).all():
        yield WordFact(by, at, family, code, sha256.hex(), reason)


_RAN = ("by", "at", "family", "family_sha256", "route", "steps", "role", "mode", "sha256", "subsystem", "revision",
        "card", "kit", "version", "before", "after")  # fmt: skip


def rans(connection: Connection, family: str | None = None, *, every: bool = False) -> list[RanFact]:
    """The cards that ran, of one family or of all; those taken back only where `every` is asked for. Oldest first."""
    rows = select(*(ran.c[name] for name in _RAN)).order_by(ran.c.at, ran.c.fact)
    rows = rows if family is None else rows.where(ran.c.family == family)
    if not every:
        rows = rows.where(ran.c.fact.not_in(select(taken_back.c.fact)))
    return [RanFact(*row) for row in connection.execute(rows).all()]


def takings_back(connection: Connection) -> dict[str, TakenBack]:
    """What was taken back, by the id of the fact."""
    t = taken_back.c
    rows = connection.execute(select(t.by, t.at, t.fact, t.reason)).all()
    return {one.fact: one for one in (TakenBack(*row) for row in rows)}


def fill(connection: Connection) -> None:
    """Give every record that has none the id of its fact. Recorded anew, a fact stands, whoever took it back."""
    fresh: list[str] = []
    l, k, w = recorded_list.c, recorded_key.c, word.c  # noqa: E741 (short-lived)
    if connection.execute(select(l.id).where(l.fact == "").limit(1)).first() is not None:
        lacking = set(connection.execute(select(l.id).where(l.fact == "")).scalars())
        for id_, said in zip(_ids(connection, recorded_list), list(_lists(connection)), strict=True):
            if id_ not in lacking:
                continue
            fresh.append(fact_id(said))
            connection.execute(update(recorded_list).where(l.id == id_).values(fact=fresh[-1]))
    if connection.execute(select(k.id).where(k.fact == "").limit(1)).first() is not None:
        lacking = set(connection.execute(select(k.id).where(k.fact == "")).scalars())
        for id_, key in zip(_ids(connection, recorded_key), list(_keys(connection)), strict=True):
            if id_ not in lacking:
                continue
            fresh.append(fact_id(key))
            connection.execute(update(recorded_key).where(k.id == id_).values(fact=fresh[-1]))
    if connection.execute(select(w.code).where(w.fact == "").limit(1)).first() is not None:
        for one in list(_words(connection)):
            same = (w.family == one.family) & (w.code == one.code) & (w.sha256 == bytes.fromhex(one.sha256))
            connection.execute(update(word).where(same).values(fact=fact_id(one)))
    stand(connection, fresh)


def stand(connection: Connection, ids: Iterable[str]) -> None:
    """What a person here records anew stands, though it was taken back within the same second."""
    for id_ in ids:
        connection.execute(delete(taken_back).where(taken_back.c.fact == id_))


def _ids(connection: Connection, table: object) -> Sequence[int]:
    id_ = (recorded_list if table is recorded_list else recorded_key).c.id
    return connection.execute(select(id_).order_by(id_)).scalars().all()


def put(connection: Connection, fact: Fact, key: Key | None = None) -> int:
    """Record a fact that is not here yet; `key` is what the body of a KeyFact was read as.

    One from elsewhere keeps its bench, and who took it in. The number of a list or key that was recorded, else 0.
    """
    number = 0
    said = fact.said
    if isinstance(said, ListFact):
        number = recorded.record(
            connection, said.sha256, names.raw(said.name), said.source, said.by, said.entries, at=said.at
        )
        connection.execute(update(recorded_list).where(recorded_list.c.id == number).values(fact=fact.id))
    elif isinstance(said, KeyFact):
        assert key is not None
        number = keys.record(connection, key, said.source, said.by, at=said.at)
        connection.execute(update(recorded_key).where(recorded_key.c.id == number).values(fact=fact.id))
    elif isinstance(said, WordFact):
        put_word(connection, said)
    elif isinstance(said, RanFact):
        row = (fact.id, *(getattr(said, name) for name in _RAN))
        bulk.insert(connection, ran, ("fact", *_RAN), [row], "ON CONFLICT (fact) DO NOTHING")
    else:
        row_ = (said.fact, said.by, said.reason, said.at)
        bulk.insert(connection, taken_back, ("fact", "by", "reason", "at"), [row_], "ON CONFLICT (fact) DO NOTHING")
    if fact.bench:
        came(connection, fact.id, (fact.bench, fact.sent_by, fact.accepted_by, fact.accepted_at))
    return number


def came(connection: Connection, id_: str, origin: tuple[str, str, str, str]) -> None:
    """Remember where a fact, or a family file by its SHA-256, came from: bench, sender, who took it in, and when."""
    columns = ("fact", "bench", "sent_by", "accepted_by", "accepted_at")
    bulk.insert(connection, fact_from, columns, [(id_, *origin)], "ON CONFLICT (fact) DO NOTHING")


def came_from(connection: Connection, id_: str) -> str:
    """Where a fact or family file came from, in words; "" for one of this bench's own."""
    row = connection.execute(select(*fact_from.columns).where(fact_from.c.fact == id_)).first()
    if row is None:
        return ""
    day = row.accepted_at[:10]
    return f"from {row.bench}, sent by {row.sent_by}, taken in by {row.accepted_by} on {day}"


def put_word(connection: Connection, said: WordFact) -> None:
    """Record a word with the time it was given; a later one for the same takes its place."""
    row = (said.family, said.code, bytes.fromhex(said.sha256), names.plain(said.reason), names.plain(said.by), said.at)
    again = (
        "ON CONFLICT (family, code, sha256) DO UPDATE SET "
        'reason=excluded.reason, "by"=excluded."by", at=excluded.at, fact=excluded.fact'
    )
    columns = ("family", "code", "sha256", "reason", "by", "at", "fact")
    bulk.insert(connection, word, columns, [(*row, fact_id(said))], again)


class Records:
    """What is recorded, asked while facts of another bench come in. `known` are the facts from before that, by id."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self.known = {one.id: one for one in every(connection)}

    def word(self, family: str, code: str, sha256: str) -> Word | None:
        """The word that stands here for family, code and content, taken back or not."""
        w = word.c
        same = (w.family == family) & (w.code == code) & (w.sha256 == bytes.fromhex(sha256))
        row = self._connection.execute(select(w.code, w.sha256, w.reason, w.by).where(same)).first()
        return None if row is None else Word(row.code, row.sha256.hex(), row.reason, row.by)

    def key(self, kind: str, fingerprint: str) -> keys.RecordedKey | None:
        """The key recorded here with that fingerprint, taken back or not."""
        return keys.known(self._connection, kind, fingerprint)


def name_of_bench(connection: Connection) -> str:
    """What this bench calls itself; "" where nobody said so yet."""
    return connection.execute(select(this_bench.c.name)).scalar() or ""


def name_bench(connection: Connection, name: str) -> None:
    """Remember what this bench calls itself."""
    connection.execute(delete(this_bench))
    connection.execute(insert(this_bench).values(id=1, name=names.plain(name)))
