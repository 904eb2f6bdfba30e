"""What people decided and what was judged: words, accepted families, kits, the answers of patterns."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime

from sqlalchemy import Connection, func, insert, select

from catalogue.shapes.facts import WordFact, fact_id
from catalogue.shapes.kit import Word
from catalogue.shapes.reading import Match
from catalogue.store import bulk, facts, names, recorded
from catalogue.store.pieces import ids_of
from catalogue.store.snapshot import now
from catalogue.store.tables import accepted_family, kit_judged, kit_written, pattern, pattern_answer, piece, word


def give_word(connection: Connection, family: str, given: Word) -> None:
    """Record a word; a later one for the same family, code and content takes its place."""
    reason, by = names.plain(given.reason), names.plain(given.by)
    said = WordFact(by, now(), family, given.code, given.sha256, reason)
    facts.put_word(connection, said)
    facts.stand(connection, [fact_id(said)])


def words(connection: Connection, family: str) -> tuple[Word, ...]:
    """The words given for a family, by code and content; one from another bench names that, and who took it in."""
    elsewhere = recorded.origins(connection)

    def giver(by: str, fact: str) -> str:
        if fact not in elsewhere:
            return by
        bench, accepted_by = elsewhere[fact]
        return f"{by} at {bench}, taken in by {accepted_by}"

    rows = select(word.c.code, word.c.sha256, word.c.reason, word.c.by, word.c.fact).where(word.c.family == family)
    rows = rows.where(recorded.in_force(word.c.fact))
    found = connection.execute(rows.order_by(word.c.code, word.c.sha256))
    return tuple(Word(code, sha.hex(), reason, giver(by, fact)) for code, sha, reason, by, fact in found)


def accept_family(connection: Connection, family: str, sha256: str) -> None:
    """Record that a person accepted this very family file."""
    exact = datetime.now(UTC).isoformat(timespec="microseconds")  # which of two was the last must be known
    row = (family, bytes.fromhex(sha256), exact)
    bulk.insert(connection, accepted_family, ("family", "sha256", "at"), [row], "ON CONFLICT DO NOTHING")


def accepted_families(connection: Connection) -> dict[str, frozenset[str]]:
    """The accepted family files: SHA-256s by id."""
    found: dict[str, set[str]] = {}
    for family, sha in connection.execute(select(accepted_family.c.family, accepted_family.c.sha256)).all():
        found.setdefault(family, set()).add(sha.hex())
    return {family: frozenset(shas) for family, shas in found.items()}


def accepted_before(connection: Connection, family: str) -> tuple[str, ...]:
    """The SHA-256s of a family's accepted files, the last accepted first."""
    rows = select(accepted_family.c.sha256).where(accepted_family.c.family == family)
    rows = rows.order_by(accepted_family.c.at.desc(), accepted_family.c.sha256)
    return tuple(sha.hex() for (sha,) in connection.execute(rows).all())


def remember_kit(connection: Connection, kit_id: str, family: str, route: str, verdict: str, body: str) -> None:
    """Keep a judged kit, so that it can be asked for by its id."""
    row = (kit_id, family, route, verdict, body, now())
    columns = ("kit_id", "family", "route", "verdict", "body", "at")
    again = "ON CONFLICT (kit_id) DO UPDATE SET verdict=excluded.verdict, body=excluded.body, at=excluded.at"
    bulk.insert(connection, kit_judged, columns, [row], again)


def kit_body(connection: Connection, kit_id: str) -> str | None:
    """The JSON of a kit judged here."""
    return connection.execute(select(kit_judged.c.body).where(kit_judged.c.kit_id == kit_id)).scalar()


def write_kit(connection: Connection, kit_id: str, target: bytes, body: str) -> None:
    """Record that a kit was written to a target."""
    id_ = (connection.execute(select(func.max(kit_written.c.id))).scalar() or 0) + 1
    connection.execute(insert(kit_written).values(id=id_, kit_id=kit_id, target=target, at=now(), body=body))


def kits_written(connection: Connection) -> list[tuple[str, str, str, str]]:
    """Kit id, target, when and the kit's JSON of each write-out, newest first."""
    columns = (kit_written.c.kit_id, kit_written.c.target, kit_written.c.at, kit_written.c.body)
    found = connection.execute(select(*columns).order_by(kit_written.c.id.desc()))
    return [(kit_id, names.shown(target), at, body) for kit_id, target, at, body in found]


def pattern_answers(
    connection: Connection, sha256s: Sequence[str], texts: Sequence[str]
) -> dict[str, dict[str, Match | None]]:
    """What is known of these patterns in these pieces: by SHA-256, then by pattern; None for looked for in vain."""
    known = dict(connection.execute(select(pattern.c.id, pattern.c.text)).all())
    wanted = {id_: text for id_, text in known.items() if text in set(texts)}
    found: dict[str, dict[str, Match | None]] = {}
    if not wanted:
        return found
    columns = (
        piece.c.sha256,
        pattern_answer.c.pattern_id,
        pattern_answer.c.offset,
        pattern_answer.c.length,
        pattern_answer.c.value,
    )
    rows = select(*columns).join(piece, piece.c.id == pattern_answer.c.piece_id)
    rows = rows.where(bulk.among(pattern_answer.c.pattern_id, list(wanted)))
    asked = set(sha256s)
    for some in [None] if len(asked) > bulk.ROWS else [[bytes.fromhex(sha) for sha in asked]]:
        for sha, id_, offset, length, value in connection.execute(
            rows if some is None else rows.where(piece.c.sha256.in_(some))
        ).all():
            if (text := sha.hex()) in asked:
                match = None if offset is None else Match(offset, length, value)
                found.setdefault(text, {})[wanted[id_]] = match
    return found


def put_pattern_answers(connection: Connection, answers: Iterable[tuple[str, str, Match | None]]) -> None:
    """Remember answers: SHA-256, pattern, and where it was found or None. Of pieces that are gone nothing is kept."""
    given = list(answers)
    ids = ids_of(connection, {sha for sha, _text, _match in given})
    numbers = _pattern_ids(connection, {text for _sha, text, _match in given})
    rows = [
        (
            ids[sha],
            numbers[text],
            match.offset if match else None,
            match.length if match else 0,
            match.value if match else "",
        )
        for sha, text, match in given
        if sha in ids
    ]
    again = (
        "ON CONFLICT (piece_id, pattern_id) DO UPDATE SET "
        '"offset"=excluded."offset", length=excluded.length, value=excluded.value'
    )
    bulk.insert(connection, pattern_answer, ("piece_id", "pattern_id", "offset", "length", "value"), rows, again)


def _pattern_ids(connection: Connection, texts: set[str]) -> Mapping[str, int]:
    known = dict(connection.execute(select(pattern.c.text, pattern.c.id)).all())
    first = max(known.values(), default=0) + 1
    fresh = [(first + number, text) for number, text in enumerate(sorted(texts - known.keys()))]
    bulk.insert(connection, pattern, ("id", "text"), fresh)
    return known | {text: id_ for id_, text in fresh}
