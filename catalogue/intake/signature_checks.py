"""Ask recorded keys of the signatures that name them and lie beside a piece."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

from catalogue.errors import NotWorkable
from catalogue.formats.limits import MAX_DETACHED_BYTES, MAX_LIST_BYTES
from catalogue.formats.signing_keys import check
from catalogue.intake import fetch
from catalogue.shapes.progress import Progress
from catalogue.shapes.reading import ListEntry
from catalogue.shapes.signing import UNPROVED, Key, Verdict
from catalogue.store import Store, bulk, keys, pieces, signature_pairs, signed
from catalogue.store.keys import Answer, RecordedKey

BATCH = 500
"""Answers written at once."""


@dataclass(frozen=True, slots=True)
class _Job:
    """One signature about one piece, and the recorded keys that it names and that have not answered yet."""

    signature_id: int
    target_id: int
    keys: tuple[RecordedKey, ...]


def add(store: Store, progress: Progress) -> int:
    """Ask every recorded key of every signature that names it; how many answers came anew. Raises Stopped.

    A piece is read once for all signatures beside it. What cannot be read has no answer, and is asked again next time.
    """
    jobs, shas, lists = _jobs(store)
    done = 0
    answers: list[Answer] = []
    try:
        for number, (target, mine) in enumerate(jobs.items()):
            sha256, size = shas[target]
            progress.report(number, len(jobs), f"signatures of {sha256[:12]}")
            answers += _answers(store, mine, shas, sha256, size, lists.get(target))
            if len(answers) >= BATCH:
                done += _put(store, answers)
    finally:
        done += _put(store, answers)
    return done


def _put(store: Store, answers: list[Answer]) -> int:
    count = len(answers)
    if count:
        with store.writing() as connection:
            keys.put_answers(connection, answers)
        answers.clear()
    return count


Shas = dict[int, tuple[str, int]]


def _jobs(store: Store) -> tuple[dict[int, list[_Job]], Shas, dict[int, tuple[ListEntry, ...]]]:
    """The jobs by target, SHA-256s and sizes, and the entries of the targets that are lists."""
    with store.reading() as connection:
        recorded = keys.every(connection)
        if not recorded:
            return {}, {}, {}
        found = signature_pairs.pairs(connection)
        answered = keys.answered(connection)
        jobs: dict[int, list[_Job]] = {}
        for some in bulk.batches(found, 5_000):
            named = signed.named_by(connection, {one.signature_id for one in some})
            for pair in some:
                ids = set(named.get(pair.signature_id, ()))
                mine = tuple(
                    one
                    for one in recorded
                    if ids.intersection(one.key.ids) and (pair.signature_id, pair.target_id, one.id) not in answered
                )
                if mine:
                    jobs.setdefault(pair.target_id, []).append(_Job(pair.signature_id, pair.target_id, mine))
        wanted = {id_ for held in jobs.values() for one in held for id_ in (one.signature_id, one.target_id)}
        rows = pieces.rows_of(connection, wanted)
        shas = {id_: (row[1].hex(), row[2]) for id_, row in rows.items()}
        targets = {id_: rows[id_] for id_ in jobs if rows[id_][3] == "checksum-list"}
        lists = {id_: one.entries for id_, one in pieces.readings_of(connection, targets).items()}
    return jobs, shas, lists


def _answers(
    store: Store, jobs: list[_Job], shas: Shas, sha256: str, size: int, entries: tuple[ListEntry, ...] | None
) -> Iterator[Answer]:
    try:
        data = fetch.piece_bytes(store, sha256) if size <= fetch.MOST else None
    except NotWorkable:
        return
    moment = datetime.now(UTC)
    for job in jobs:
        signature = b""
        if job.signature_id != job.target_id:
            try:
                signature = fetch.piece_bytes(store, shas[job.signature_id][0], MAX_DETACHED_BYTES)
            except NotWorkable:
                continue
        for one in job.keys:
            if data is None:
                verdict = Verdict(UNPROVED, f"The piece is longer than {fetch.MOST >> 20} MiB, too long to be checked.")
            elif job.signature_id == job.target_id:
                verdict = _clear(one.key, data, entries or (), moment)
            else:
                verdict = check(one.key, signature, data, moment, text=entries is not None)
            yield Answer(job.signature_id, job.target_id, one.id, verdict)


def _clear(key: Key, data: bytes, entries: tuple[ListEntry, ...], moment: datetime) -> Verdict:
    """A list that is signed in the clear: the signature must hold, and cover just the entries that were read."""
    from catalogue.formats import checksum_list, openpgp_key

    if len(data) > MAX_LIST_BYTES:
        return Verdict(UNPROVED, "The list is too long to be read whole.")
    verdict, text = openpgp_key.check_clear(key, data, checksum_list.signature_packets(data), moment)
    if text and _bare(checksum_list.signed_entries(text)) != _bare(entries):
        return Verdict(UNPROVED, "It lists more than what was signed, or other things.", verdict.algorithm)
    return verdict


def _bare(entries: tuple[ListEntry, ...]) -> list[tuple[str, str, str]]:
    return [(one.algorithm, one.digest, one.name) for one in entries]
