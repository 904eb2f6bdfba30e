"""What the catalogue knows of pieces, as evidence for judging them.

The rungs it knows (judging.md, "Vouching"):

*named*: the piece's digest stands in a list whose source a person recorded, whatever the file is called here; or it is
signed by a key whose source a person recorded, or its digest stands in a list so signed (`signed.py`); what lies in a
named archive inherits it. Nothing is inherited by a member that is damaged; from an archive that a list or a signature
speaks against; nor, where something is wrong with the archive as a whole, by members that have no check of their own.
*agreed*: two unrelated archives hold the same bytes (`agreed.py`).
*neighbour*: a list in the same bundle gives this digest for this very path (`lists.py`), or the piece unpacked to the
CRC that its archive's directory gives.

It is *contradicted* by a line of a list in the same bundle that names this very path and gives another digest, unless
another line of that list gives the right one; and by a recorded list that gives another digest for a file of this name,
where no content of that digest is here and no recorded list names the piece. What lies in archives alone, each of them
contradicted, is contradicted with them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from sqlalchemy import Connection, select

from catalogue.shapes.piece import Contradiction, PieceFacts, Place, SignatureCheck, Vouch
from catalogue.shapes.reading import Fault
from catalogue.store import agreed, bulk, derived, lists, names, pieces, recorded
from catalogue.store.beside import besides
from catalogue.store.places import places_of
from catalogue.store.signed import Signed
from catalogue.store.store import Store
from catalogue.store.tables import archive, file, member, piece

RANK = {"signed": 0, "named": 1, "ran": 2, "agreed": 3, "neighbour": 4, "none": 5}
CRC = "crc32"
MOST_VOUCHES = 50
MOST_BESIDE = 8
SPEAK_AGAINST = frozenset(("archive-damaged",))
"""Fault codes of archive members that speak against the bytes themselves."""


def facts(store: Store, sha256s: Iterable[str]) -> dict[str, PieceFacts]:
    """Everything known of each of these pieces, by SHA-256; unknown ones are absent."""
    asked = list(dict.fromkeys(sha256s))
    found: dict[str, PieceFacts] = {}
    with store.reading() as connection:
        for some in bulk.batches(asked, 5_000):
            found.update(_facts(connection, store, some))
    return found


def _facts(connection: Connection, store: Store, sha256s: Sequence[str]) -> dict[str, PieceFacts]:
    ids = pieces.ids_of(connection, sha256s)
    rows = pieces.rows_of(connection, ids.values())
    readings = pieces.readings_of(connection, rows)
    lies = places_of(connection, rows)
    speaks = _Speaks(connection, list(rows))
    near = besides(connection, list(rows))
    faults = member_faults(connection, list(rows))
    others = beside_faults(connection, list(rows))
    found: dict[str, PieceFacts] = {}
    for sha256, id_ in ids.items():
        places = lies.get(id_) or _kept_place(store, sha256)
        vouches = speaks.vouches(id_)
        reading = derived.as_named(readings[id_], rows[id_][4])
        info = replace(pieces.info(rows[id_], reading, places), vouch=vouches)
        found[sha256] = PieceFacts(
            info=info,
            reading=reading,
            places=places,
            vouches=vouches,
            contradictions=speaks.contradictions(id_),
            beside=near.get(id_, ()),
            member_faults=faults.get(id_, ()),
            within=speaks.within(id_),
            signatures=speaks.signatures(id_),
            beside_faults=others.get(id_, ()),
        )
    return found


def _kept_place(store: Store, sha256: str) -> tuple[Place, ...]:
    path = store.kept_path(sha256)
    return () if path is None else (Place(str(path)),)


def vouches_of(connection: Connection, ids: Sequence[int]) -> dict[int, tuple[Vouch, ...]]:
    """What speaks for each piece, best first."""
    speaks = _Speaks(connection, ids)
    return {id_: speaks.vouches(id_) for id_ in ids}


def member_faults(connection: Connection, ids: Sequence[int]) -> dict[int, tuple[Fault, ...]]:
    """Faults of the archive entries that pieces were read from, for those where every place has one."""
    loose = _loose(connection, ids)
    found: dict[int, list[Fault] | None] = {}
    for some in bulk.batches(ids):
        rows = select(member.c.piece_id, member.c.fault, member.c.why).where(bulk.among(member.c.piece_id, some))
        for id_, code, why in connection.execute(rows.order_by(member.c.archive_id, member.c.position)).all():
            if code not in SPEAK_AGAINST or id_ in loose:
                found[id_] = None
            elif (known := found.setdefault(id_, [])) is not None:
                known.append(Fault(code, why))
    return {id_: tuple(dict.fromkeys(faults)) for id_, faults in found.items() if faults}


def beside_faults(connection: Connection, ids: Sequence[int]) -> dict[int, tuple[Fault, ...]]:
    """What is damaged beside each piece: other entries of the archives that hold it, at most MOST_BESIDE each."""
    holders: dict[int, set[int]] = {}
    for some in bulk.batches(ids):
        rows = select(member.c.archive_id, member.c.piece_id).where(bulk.among(member.c.piece_id, some))
        for archive_id, id_ in connection.execute(rows).all():
            holders.setdefault(archive_id, set()).add(id_)
    found: dict[int, list[Fault]] = {}
    order = (member.c.archive_id, member.c.position)
    for some in bulk.batches(sorted(holders)):
        entries = select(member.c.archive_id, member.c.piece_id, member.c.name, member.c.fault, member.c.why)
        entries = entries.where(bulk.among(member.c.archive_id, some), member.c.fault.in_(SPEAK_AGAINST))
        for archive_id, own, name, code, why in connection.execute(entries.order_by(*order)).all():
            fault = Fault(code, f"{names.shown(name)}: {why}")
            for id_ in holders[archive_id] - {own}:
                known = found.setdefault(id_, [])
                if len(known) < MOST_BESIDE:
                    known.append(fault)
    return {id_: tuple(dict.fromkeys(faults)) for id_, faults in found.items()}


def _loose(connection: Connection, ids: Sequence[int]) -> set[int]:
    found: set[int] = set()
    for some in bulk.batches(ids):
        found.update(
            connection.execute(select(file.c.piece_id).where(bulk.among(file.c.piece_id, some)).distinct()).scalars()
        )
    return found


@dataclass(frozen=True, slots=True)
class _Around:
    """For each asked piece: the archives that hold it directly, whether nothing is wrong with the entry (nor with the
    archive as a whole, where no check of the entry's own clears it), and whether a check of its bytes that the archive
    keeps held."""

    archive_id: int
    name: str
    sound: bool
    checked: bool


class _Speaks:
    """What lists and archives say for and against some pieces, gathered at once."""

    def __init__(self, connection: Connection, ids: Sequence[int]) -> None:
        self._connection = connection
        self._around = _around(connection, ids)
        holders = _all_around(self._around)
        for _ in range(16):
            further = _around(connection, [one for one in holders if one not in self._around])
            if not further:
                break
            self._around.update(further)
            holders = _all_around(self._around)
        everyone = list(dict.fromkeys([*ids, *holders]))
        self._loose = _loose(connection, everyone)
        self._digests = lists.digests_of(connection, everyone)
        self._claims: dict[int, list[lists.Claim]] = {}
        for claim in lists.claims_about(connection, everyone):
            self._claims.setdefault(claim.piece_id, []).append(claim)
        self._recorded = recorded.names_for(connection, everyone, self._digests)
        listing = {claim.list_id for held in self._claims.values() for claim in held}
        self._signed = Signed(connection, list(dict.fromkeys([*everyone, *listing])), self._digests)
        self._doubtful = {id_ for id_ in listing if self._signed.is_broken(id_)}
        self._spoken_against = {id_ for id_ in holders if self._signed.is_broken(id_) or any(self._by_lists(id_))}
        named = {id_ for id_ in everyone if self._named(id_, 0)}
        self._against = recorded.against(connection, everyone, self._digests, named)
        self._spoken_against |= holders & self._against.keys()
        sizes = dict(_sizes(connection, ids))
        self._agreed = agreed.agreeing(connection, ids, sizes, self._sources_of)
        lies = {one for pair in self._agreed.values() for one in pair}
        lies |= {one.archive_id for id_ in ids for one in self._around.get(id_, ())}
        self._places = places_of(connection, lies, 1)
        self._sha256s = dict(_sha256s(connection, list(holders)))

    def within(self, id_: int) -> tuple[str, ...]:
        """The SHA-256s of the archives a piece was unpacked from soundly, at any depth."""
        return tuple(sorted({self._sha256s[one] for one in self._sound_archives(id_, 0)}))

    def _sound_archives(self, id_: int, depth: int) -> Iterable[int]:
        if depth < 16:
            for around in self._around.get(id_, ()):
                if self._gives(around):
                    yield around.archive_id
                    yield from self._sound_archives(around.archive_id, depth + 1)

    def _gives(self, around: _Around) -> bool:
        """Whether what speaks for an archive speaks for this member of it too."""
        return around.sound and around.archive_id not in self._spoken_against

    def vouches(self, id_: int) -> tuple[Vouch, ...]:
        """What speaks for a piece, best first."""
        said = [*self._named(id_, 0), *self._agreeing(id_), *self._neighbours(id_)]
        return tuple(sorted(dict.fromkeys(said), key=lambda one: (RANK[one.rung], one.place, one.algorithm)))[
            :MOST_VOUCHES
        ]

    def signatures(self, id_: int) -> tuple[SignatureCheck, ...]:
        """What is known of the signatures that lie beside a piece."""
        return self._signed.checks(id_)[:MOST_VOUCHES]

    def _named(self, id_: int, depth: int) -> list[Vouch]:
        said = [*self._recorded.get(id_, ()), *self._signed.vouches(id_)]
        if depth < 16:
            for around in self._around.get(id_, ()):
                if self._gives(around):
                    said += self._named(around.archive_id, depth + 1)
        return said

    def _agreeing(self, id_: int) -> list[Vouch]:
        pair = self._agreed.get(id_)
        if pair is None:
            return []
        one, other = (self._place(archive_id) for archive_id in pair)
        return [Vouch("agreed", f"two unrelated archives: {one} and {other}", one, lists.SHA256)]

    def _sources_of(self, archive_id: int) -> frozenset[str]:
        """The recorded sources that name an archive itself."""
        return frozenset(one.by for one in (*self._recorded.get(archive_id, ()), *self._signed.vouches(archive_id)))

    def _neighbours(self, id_: int) -> list[Vouch]:
        said = [
            Vouch("neighbour", "a list beside it", str(claim.list_place), claim.algorithm)
            for claim in self._claims.get(id_, ())
            if self._digests.get((id_, claim.algorithm)) == claim.digest and claim.list_id not in self._doubtful
        ]
        return said + [
            Vouch("neighbour", "the CRC of its archive", f"{self._place(one.archive_id)} › {one.name}", CRC)
            for one in self._around.get(id_, ())
            if one.sound and one.checked
        ]

    def _place(self, archive_id: int) -> str:
        lies = self._places.get(archive_id)
        return str(lies[0]) if lies else "an archive"

    def contradictions(self, id_: int) -> tuple[Contradiction, ...]:
        """What speaks against a piece."""
        said = [*self._own_contradictions(id_)]
        if not said:
            said = self._inherited(id_, 0)
        return tuple(dict.fromkeys(said))[:MOST_VOUCHES]

    def _own_contradictions(self, id_: int) -> Iterable[Contradiction]:
        yield from self._by_lists(id_)
        yield from self._against.get(id_, ())

    def _by_lists(self, id_: int) -> Iterable[Contradiction]:
        """What lists in the same bundle say against a piece."""
        claims = self._claims.get(id_, ())
        kept = {
            (claim.list_place, claim.target, claim.algorithm)
            for claim in claims
            if self._digests.get((id_, claim.algorithm)) == claim.digest
        }
        for claim in claims:
            have = self._digests.get((id_, claim.algorithm))
            if have is None or (claim.list_place, claim.target, claim.algorithm) in kept:
                continue
            yield Contradiction(
                str(claim.list_place), claim.line, claim.algorithm, claim.digest.hex(), have.hex(), claim.name
            )

    def _inherited(self, id_: int, depth: int) -> list[Contradiction]:
        """What speaks against every archive that holds the piece, where it lies nowhere else."""
        around = self._around.get(id_, ())
        if id_ in self._loose or not around or depth > 16:
            return []
        said: list[Contradiction] = []
        for one in around:
            here = [*self._own_contradictions(one.archive_id)] or self._inherited(one.archive_id, depth + 1)
            if not here:
                return []
            said += here
        return said


def _around(connection: Connection, ids: Iterable[int]) -> dict[int, list[_Around]]:
    found: dict[int, list[_Around]] = {}
    for some in bulk.batches(ids):
        columns = (member.c.piece_id, member.c.archive_id, member.c.name, member.c.fault, member.c.crc32, archive.c.why)
        rows = select(*columns).where(bulk.among(member.c.piece_id, some))
        rows = rows.outerjoin(archive, archive.c.piece_id == member.c.archive_id)
        for id_, archive_id, name, fault, crc, why in connection.execute(
            rows.order_by(member.c.archive_id, member.c.position)
        ).all():
            sound = fault not in SPEAK_AGAINST and (crc is not None or not why)
            found.setdefault(id_, []).append(_Around(archive_id, names.from_bytes(name), sound, crc is not None))
    return found


def _all_around(around: dict[int, list[_Around]]) -> set[int]:
    return {one.archive_id for held in around.values() for one in held}


def _sizes(connection: Connection, ids: Sequence[int]) -> Iterable[tuple[int, int]]:
    for some in bulk.batches(ids):
        yield from connection.execute(select(piece.c.id, piece.c.size).where(bulk.among(piece.c.id, some)))


def _sha256s(connection: Connection, ids: Sequence[int]) -> Iterable[tuple[int, str]]:
    for some in bulk.batches(ids):
        for id_, sha256 in connection.execute(
            select(piece.c.id, piece.c.sha256).where(bulk.among(piece.c.id, some))
        ).all():
            yield id_, sha256.hex()
