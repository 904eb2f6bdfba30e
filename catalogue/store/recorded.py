"""Checksum lists whose source a person recorded: what they name, and what they speak against."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import ColumnElement, Connection, delete, func, insert, select

from catalogue.shapes.piece import Contradiction, Place, Vouch
from catalogue.shapes.reading import ListEntry
from catalogue.store import bulk, names
from catalogue.store.ingest import ENTRY, entry_row
from catalogue.store.lists import SHA256
from catalogue.store.places import places_of
from catalogue.store.snapshot import now
from catalogue.store.tables import digest, fact_from, file, member, piece, recorded_entry, recorded_list, taken_back

Digests = Mapping[tuple[int, str], bytes]


def record(
    connection: Connection,
    sha256: str,
    place: bytes,
    source: str,
    by: str,
    entries: Sequence[ListEntry],
    at: str = "",
) -> int:
    """Record a list; the same bytes from the same source again take the place of what was recorded. Its number.

    `at` is the time of a record that was made elsewhere; such a one takes nobody's place.
    """
    c = recorded_list.c
    if not at:
        same = (c.sha256 == bytes.fromhex(sha256)) & (c.source == names.plain(source)) & (c.by == names.plain(by))
        connection.execute(delete(recorded_list).where(same & c.fact.not_in(select(fact_from.c.fact))))
    id_ = (connection.execute(select(func.max(c.id))).scalar() or 0) + 1
    connection.execute(
        insert(recorded_list).values(
            id=id_,
            sha256=bytes.fromhex(sha256),
            place=place,
            source=names.plain(source),
            by=names.plain(by),
            at=at or now(),
        )
    )
    rows = [(id_, position, *entry_row(one)) for position, one in enumerate(entries)]
    bulk.insert(connection, recorded_entry, ("list_id", "position", *ENTRY), rows)
    return id_


def fact_of(connection: Connection, list_id: int) -> str:
    """The id of the fact that a recorded list is."""
    return str(connection.execute(select(recorded_list.c.fact).where(recorded_list.c.id == list_id)).scalar_one())


def numbers_of(connection: Connection, ids: Iterable[str]) -> list[int]:
    """The numbers of the recorded lists that are these facts."""
    c = recorded_list.c
    found: list[int] = []
    for some in bulk.batches(sorted(ids)):
        found += connection.execute(select(c.id).where(c.fact.in_(some)).order_by(c.id)).scalars()
    return found


def in_force(fact: ColumnElement[str]) -> ColumnElement[bool]:
    """Whether the fact of a record was not taken back."""
    return fact.not_in(select(taken_back.c.fact))


def origins(connection: Connection) -> dict[str, tuple[str, str]]:
    """The bench of each fact from elsewhere, and who took it in here."""
    f = fact_from.c
    rows = connection.execute(select(f.fact, f.bench, f.accepted_by)).all()
    return {fact: (bench, accepted_by) for fact, bench, accepted_by in rows}


def where_from(elsewhere: Mapping[str, tuple[str, str]], fact: str, by: str) -> str:
    """Who recorded a fact, for people: the person, the bench where it is another, and who took it in."""
    if fact in elsewhere:
        bench, accepted_by = elsewhere[fact]
        return f" (recorded by {by or 'nobody named'} at {bench}, taken in by {accepted_by})"
    return f" (recorded by {by})" if by else ""


def names_for(connection: Connection, ids: Sequence[int], digests: Digests) -> dict[int, list[Vouch]]:
    """The recorded lists that give a digest of these pieces, under whatever name."""
    by_digest: dict[tuple[str, bytes], list[int]] = {}
    for (id_, algorithm), value in digests.items():
        by_digest.setdefault((algorithm, value), []).append(id_)
    found: dict[int, list[Vouch]] = {}
    elsewhere = origins(connection)
    e, l = recorded_entry.c, recorded_list.c  # noqa: E741 (short-lived)
    for some in bulk.batches({value for _algorithm, value in by_digest}):
        rows = select(e.algorithm, e.digest, e.line, l.source, l.by, l.place, l.at, l.fact)
        rows = rows.join(recorded_list, l.id == e.list_id).where(in_force(l.fact))
        for algorithm, value, line, source, by, place, at, fact in connection.execute(
            rows.where(e.digest.in_(some))
        ).all():
            for id_ in by_digest.get((algorithm, value), ()):
                said = f"{source}{where_from(elsewhere, fact, by)}"
                shown = f"{names.shown(place)}, line {line}"
                found.setdefault(id_, []).append(Vouch("named", said, shown, algorithm, at))
    return found


@dataclass(frozen=True, slots=True)
class _Spot:
    piece_id: int
    parts: tuple[str, ...]


def against(
    connection: Connection, ids: Sequence[int], digests: Digests, named: set[int]
) -> dict[int, list[Contradiction]]:
    """The recorded lines that give another digest for a file of a piece's name.

    Not where a recorded list names the piece, nor where the content that the line means is here too: then the piece is
    another file of the same name.
    """
    if connection.execute(select(recorded_entry.c.list_id).limit(1)).scalar() is None:
        return {}
    spots = _spots(connection, [id_ for id_ in ids if id_ not in named])
    by_base: dict[bytes, list[_Spot]] = {}
    for spot in spots:
        by_base.setdefault(names.to_bytes(spot.parts[-1].casefold()), []).append(spot)
    found: dict[int, list[Contradiction]] = {}
    e, l = recorded_entry.c, recorded_list.c  # noqa: E741 (short-lived)
    for some in bulk.batches(by_base):
        rows = select(e.algorithm, e.digest, e.line, e.name, e.base_key, l.source, l.place).join(
            recorded_list, l.id == e.list_id
        )
        rows = rows.where(in_force(l.fact))
        for algorithm, value, line, raw, key, source, place in connection.execute(
            rows.where(e.base_key.in_(some))
        ).all():
            name = names.from_bytes(raw)
            hits = [spot for spot in by_base.get(key, ()) if _means(name, spot.parts)]
            if not hits or _is_here(connection, algorithm, value):
                continue
            for spot in hits:
                have = digests.get((spot.piece_id, algorithm))
                if have is not None and have != value:
                    told = f"{names.shown(place)} (from {source})"
                    found.setdefault(spot.piece_id, []).append(
                        Contradiction(told, line, algorithm, value.hex(), have.hex(), name)
                    )
    return found


def _means(name: str, parts: tuple[str, ...]) -> bool:
    """Whether a place ends in every part of a listed name, in any case."""
    listed = names.listed_parts(name)
    if listed is None:
        return False
    tail = parts[-len(listed) :]
    return tuple(part.casefold() for part in tail) == tuple(part.casefold() for part in listed)


def _is_here(connection: Connection, algorithm: str, value: bytes) -> bool:
    """Whether a content with this digest is in the catalogue."""
    if algorithm == SHA256:
        return connection.execute(select(piece.c.id).where(piece.c.sha256 == value)).scalar() is not None
    known = select(digest.c.piece_id).where(digest.c.value == value, digest.c.algorithm == algorithm)
    return connection.execute(known.limit(1)).scalar() is not None


def _spots(connection: Connection, ids: Iterable[int]) -> list[_Spot]:
    found: list[_Spot] = []
    for id_, places in places_of(connection, ids, 100).items():
        found += [_Spot(id_, parts) for place in places if (parts := _parts(place))]
    return found


def _parts(place: Place) -> tuple[str, ...]:
    inner = place.inside[-1] if place.inside else place.path
    return tuple(part for part in inner.replace("\\", "/").split("/") if part not in ("", "."))


@dataclass(frozen=True, slots=True)
class Standing:
    """How one recorded line stands to the catalogue: the pieces it names, and those it speaks against."""

    name: str
    algorithm: str
    want: str
    matched: bool
    against: tuple[tuple[str, Place], ...]
    """The digest that a piece of this name has, and its place."""


def standing(connection: Connection, list_id: int) -> list[Standing]:
    """How each line of a recorded list stands to what is here."""
    e = recorded_entry.c
    rows = select(e.algorithm, e.digest, e.name, e.base_key).where(e.list_id == list_id).order_by(e.position)
    lines = connection.execute(rows).all()
    alike = _named_alike(connection, {key for _algorithm, _value, _name, key in lines if key})
    ids = {id_ for held in alike.values() for id_ in held}
    lies = places_of(connection, ids, 100)
    known = _digests(connection, ids)
    made: list[Standing] = []
    for algorithm, value, raw, key in lines:
        name = names.from_bytes(raw)
        here = _is_here(connection, algorithm, value)
        speaks: list[tuple[str, Place]] = []
        for id_ in () if here else sorted(alike.get(key, ())):
            have = known.get((id_, algorithm))
            at = next((place for place in lies.get(id_, ()) if _means(name, _parts(place))), None)
            if have is not None and have != value and at is not None:
                speaks.append((have.hex(), at))
        made.append(Standing(name, algorithm, value.hex(), here, tuple(speaks)))
    return made


def _digests(connection: Connection, ids: Iterable[int]) -> Digests:
    from catalogue.store.lists import digests_of

    return digests_of(connection, ids)


def _named_alike(connection: Connection, keys: set[bytes]) -> dict[bytes, set[int]]:
    """The pieces that have a place whose last part is one of these names, in any case."""
    found: dict[bytes, set[int]] = {}
    if not keys:
        return found
    for name, id_ in connection.execute(select(file.c.name, file.c.piece_id)).all():
        key = names.to_bytes(names.shown(name).casefold())
        if key in keys:
            found.setdefault(key, set()).add(id_)
    for name, id_ in connection.execute(
        select(member.c.name, member.c.piece_id).where(member.c.piece_id.is_not(None))
    ).all():
        key = names.base_key(names.from_bytes(name))
        if key in keys:
            found.setdefault(key, set()).add(id_)
    return found
