"""Which signature lies beside which piece: in the same folder, or the same folder of the same archive.

`x.asc`, `x.sig`, `x.gpg`, `x.minisig` and `x.sign` are about `x`: the file of that very name, or, where no file has it,
the one that differs from it only in case. A list that is signed in the clear is about itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, select

from catalogue.store import bulk, names
from catalogue.store.tables import file, member, piece, reading

KINDS = ("signature/openpgp", "signature/ed25519")
ENDINGS = (".asc", ".sig", ".gpg", ".minisig", ".sign")
CLEAR = "%signature/openpgp%"
"""In the stored reading of a list that is signed in the clear."""


@dataclass(frozen=True, slots=True)
class Pair:
    """A signature and what it is about. They are the same piece where a list is signed in the clear."""

    signature_id: int
    target_id: int


def pairs(connection: Connection, targets: Sequence[int] | None = None) -> list[Pair]:
    """Every signature with the piece it is about; of these pieces alone where they are given."""
    wanted = None if targets is None else set(targets)
    found = [
        *_in_folders(connection, targets),
        *_in_archives(connection, targets),
        *(Pair(id_, id_) for id_ in _clear(connection, targets)),
    ]
    return [one for one in dict.fromkeys(found) if wanted is None or one.target_id in wanted]


def _in_folders(connection: Connection, targets: Sequence[int] | None) -> Iterable[Pair]:
    signatures = select(file.c.folder_id, file.c.name, file.c.piece_id).join(piece, piece.c.id == file.c.piece_id)
    signatures = signatures.where(piece.c.kind.in_(KINDS))
    rows: list[tuple[int, bytes, int]] = []
    if targets is None:
        rows += [(one, name, id_) for one, name, id_ in connection.execute(signatures).all()]
    else:
        for some in bulk.batches(_groups(connection, file.c.folder_id, file.c.piece_id, targets)):
            more = connection.execute(signatures.where(bulk.among(file.c.folder_id, some))).all()
            rows += [(one, name, id_) for one, name, id_ in more]
    beside: dict[int, list[tuple[str, int]]] = {}
    for some in bulk.batches({one for one, _name, _id in rows}):
        listed = select(file.c.folder_id, file.c.name, file.c.piece_id).where(bulk.among(file.c.folder_id, some))
        for one, name, id_ in connection.execute(listed).all():
            beside.setdefault(one, []).append((names.shown(name), id_))
    return _match([(one, names.shown(name), id_) for one, name, id_ in rows], beside)


def _in_archives(connection: Connection, targets: Sequence[int] | None) -> Iterable[Pair]:
    signatures = select(member.c.archive_id, member.c.name, member.c.piece_id)
    signatures = signatures.join(piece, piece.c.id == member.c.piece_id).where(piece.c.kind.in_(KINDS))
    rows: list[tuple[int, bytes, int]] = []
    if targets is None:
        rows += [(one, name, id_) for one, name, id_ in connection.execute(signatures).all() if id_ is not None]
    else:
        for some in bulk.batches(_groups(connection, member.c.archive_id, member.c.piece_id, targets)):
            more = connection.execute(signatures.where(bulk.among(member.c.archive_id, some))).all()
            rows += [(one, name, id_) for one, name, id_ in more if id_ is not None]
    beside: dict[int, list[tuple[str, int]]] = {}
    for some in bulk.batches({one for one, _name, _id in rows}):
        listed = select(member.c.archive_id, member.c.name, member.c.piece_id)
        for one, name, id_ in connection.execute(listed.where(bulk.among(member.c.archive_id, some))).all():
            path = _path(name)
            if path is not None and id_ is not None:
                beside.setdefault(one, []).append((path, id_))
    named = ((one, _path(name), id_) for one, name, id_ in rows)
    return _match([(one, path, id_) for one, path, id_ in named if path is not None], beside)


def _path(name: bytes) -> str | None:
    parts = names.listed_parts(names.from_bytes(name))
    return None if parts is None else "/".join(parts)


def _groups(connection: Connection, group: object, of: object, targets: Sequence[int]) -> set[int]:
    """The folders or archives that these pieces lie in."""
    found: set[int] = set()
    for some in bulk.batches(targets):
        rows = select(group).where(bulk.among(of, some)).distinct()  # type: ignore[call-overload, arg-type]
        found.update(connection.execute(rows).scalars())
    return found


def _match(rows: list[tuple[int, str, int]], beside: dict[int, list[tuple[str, int]]]) -> Iterable[Pair]:
    exact = {one: _by(listed, folded=False) for one, listed in beside.items()}
    alike = {one: _by(listed, folded=True) for one, listed in beside.items()}
    for one, name, id_ in rows:
        ending = next((end for end in ENDINGS if name.casefold().endswith(end) and len(name) > len(end)), None)
        if ending is None:
            continue
        about = name[: -len(ending)]
        hits = exact.get(one, {}).get(about)
        if hits is None:
            hits = alike.get(one, {}).get(about.casefold(), set())
            if len(hits) != 1:
                continue
        yield from (Pair(id_, target) for target in sorted(hits) if target != id_)


def _by(listed: Iterable[tuple[str, int]], *, folded: bool) -> dict[str, set[int]]:
    """The pieces by the name they have there. An archive may have a name twice."""
    found: dict[str, set[int]] = {}
    for name, id_ in listed:
        found.setdefault(name.casefold() if folded else name, set()).add(id_)
    return found


def _clear(connection: Connection, targets: Sequence[int] | None) -> list[int]:
    rows = select(piece.c.id).join(reading, reading.c.piece_id == piece.c.id)
    rows = rows.where(piece.c.is_list, reading.c.body.like(CLEAR))
    if targets is None:
        return list(connection.execute(rows).scalars())
    found: list[int] = []
    for some in bulk.batches(targets):
        found += connection.execute(rows.where(bulk.among(piece.c.id, some))).scalars()
    return found
