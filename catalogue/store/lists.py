"""What checksum lists say of the pieces that lie in the same bundle.

A list speaks for its bundle: the archive it lies in, or its folder and, by path, the folders in it. Its names are
relative to where it lies; backslashes count as slashes, `./` says nothing, and what leads out of the bundle is not
followed. A name is the file's own; where no file has it, the one file that differs from it only in case. A bare digest
in `x.sha256` is about `x`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, select

from catalogue.shapes.piece import Place
from catalogue.store import bulk, names
from catalogue.store.places import SEPARATOR, join, places_of
from catalogue.store.snapshot import folders_under
from catalogue.store.tables import digest, file, folder, list_entry, member, piece, recorded_entry

SHA256 = "sha256"


@dataclass(frozen=True, slots=True)
class Claim:
    """One line of a list about one piece, at one place of each. `target` is the piece's place."""

    list_id: int
    list_place: Place
    line: int
    algorithm: str
    digest: bytes
    name: str
    piece_id: int
    target: Place


@dataclass(frozen=True, slots=True)
class _Spot:
    """A name in a bundle: a folder's path or an archive's id, and the parts below it."""

    piece_id: int
    root: bytes | int
    parts: tuple[str, ...]

    @property
    def key(self) -> tuple[bytes | int, tuple[str, ...]]:
        return self.root, tuple(part.casefold() for part in self.parts)


@dataclass(frozen=True, slots=True)
class _Line:
    list_id: int
    line: int
    algorithm: str
    digest: bytes
    name: str


def claims_about(connection: Connection, ids: Sequence[int]) -> list[Claim]:
    """Every line of a list in a bundle with one of these pieces that names its very path there."""
    loose, inside = _spots(connection, ids)
    keys = {names.to_bytes(spot.parts[-1].casefold()) for spot in (*loose, *inside)}
    lines = _lines(connection, keys)
    if not lines:
        return []
    at_loose, at_inside = (
        [spot for spot in spots if not _is_blake2(spot.parts[-1], lines[spot.piece_id])]
        for spots in _spots(connection, sorted(lines))
    )
    return [*_loose_claims(connection, lines, at_loose, loose), *_inside_claims(connection, lines, at_inside, inside)]


def _is_blake2(name: str, lines: Iterable[_Line]) -> bool:
    """Whether a list is one of BLAKE2b (RFC 7693), by its name alone.

    `b2sum` writes lines that cannot be told from those of SHA-512, and we do not reckon with BLAKE2b: such a list says
    nothing for or against a piece.
    """
    folded = name.casefold()
    named = "blake2" in folded or folded.startswith("b2sum") or folded.endswith((".b2", ".b2sum", ".b2sums"))
    return named and all(line.algorithm == "sha512" for line in lines)


def _spots(connection: Connection, ids: Sequence[int]) -> tuple[list[_Spot], list[_Spot]]:
    """Where pieces lie: in folders, and in archives."""
    loose: list[_Spot] = []
    inside: list[_Spot] = []
    for some in bulk.batches(ids):
        rows = select(file.c.piece_id, folder.c.path, file.c.name).join(folder, folder.c.id == file.c.folder_id)
        for id_, path, name in connection.execute(rows.where(bulk.among(file.c.piece_id, some))).all():
            loose.append(_Spot(id_, path, (names.shown(name),)))
        members = select(member.c.piece_id, member.c.archive_id, member.c.name)
        for id_, archive_id, name in connection.execute(members.where(bulk.among(member.c.piece_id, some))).all():
            parts = names.listed_parts(names.from_bytes(name))
            if parts is not None:
                inside.append(_Spot(id_, archive_id, parts))
    return loose, inside


def _lines(connection: Connection, keys: Iterable[bytes]) -> dict[int, list[_Line]]:
    found: dict[int, list[_Line]] = {}
    c = list_entry.c
    for some in bulk.batches({*keys, b""}):
        rows = select(c.list_id, c.line, c.algorithm, c.digest, c.name).where(c.base_key.in_(some))
        for list_id, line, algorithm, value, name in connection.execute(rows).all():
            found.setdefault(list_id, []).append(_Line(list_id, line, algorithm, value, names.from_bytes(name)))
    return found


def _named(line: _Line, list_name: str) -> tuple[str, ...] | None:
    """The parts that a line names, relative to its list; a bare digest is about the list's name less its ending."""
    if line.name:
        return names.listed_parts(line.name)
    stem, dot, _ending = list_name.rpartition(".")
    return (stem,) if dot and stem else None


def _loose_claims(
    connection: Connection, lines: dict[int, list[_Line]], lists: Sequence[_Spot], pieces: Sequence[_Spot]
) -> Iterator[Claim]:
    by_key: dict[tuple[str, str], list[_Spot]] = {}
    for spot in pieces:
        assert isinstance(spot.root, bytes)
        by_key.setdefault((names.shown(spot.root).casefold(), spot.parts[0].casefold()), []).append(spot)
    for at in lists:
        assert isinstance(at.root, bytes)
        place = Place(names.shown(join(at.root, names.raw(at.parts[0]))))
        for line in lines[at.piece_id]:
            parts = _named(line, at.parts[0])
            if parts is None:
                continue
            home = names.shown(at.root)
            under = join_shown(home, parts[:-1])
            hits = [
                spot
                for spot in by_key.get((under.casefold(), parts[-1].casefold()), ())
                if spot.piece_id != at.piece_id and isinstance(spot.root, bytes) and within(spot.root, at.root)
            ]
            exact = [one for one in hits if names.shown(one.root) == under and one.parts[0] == parts[-1]]  # type: ignore[arg-type]
            for spot in exact or [one for one in hits if _alone(connection, one, under, parts[-1])]:
                assert isinstance(spot.root, bytes)
                target = Place(names.shown(join(spot.root, names.raw(spot.parts[0]))))
                yield Claim(
                    line.list_id, place, line.line, line.algorithm, line.digest, line.name, spot.piece_id, target
                )


def join_shown(home: str, parts: Sequence[str]) -> str:
    """A folder below another, as text."""
    return names.shown(SEPARATOR).join((home.rstrip("/\\") if parts else home, *parts))


def within(path: bytes, root: bytes) -> bool:
    """Whether a folder is `root` or lies in it."""
    return path == root or path.startswith(root if root.endswith(SEPARATOR) else root + SEPARATOR)


def _alone(connection: Connection, spot: _Spot, under: str, name: str) -> bool:
    """Whether no other file answers to the name when case is not looked at, so that the name can mean only this one."""
    root = spot.root
    if isinstance(root, bytes):
        listed = select(file.c.name).join(folder, folder.c.id == file.c.folder_id).where(folder.c.path == root)
        alike = [one for one in connection.execute(listed).scalars() if names.shown(one).casefold() == name.casefold()]
        return len(alike) == 1
    listed_parts = (
        names.listed_parts(names.from_bytes(one))
        for one in connection.execute(select(member.c.name).where(member.c.archive_id == root)).scalars()
    )
    wanted = spot.key[1]
    return sum(parts is not None and tuple(part.casefold() for part in parts) == wanted for parts in listed_parts) == 1


def _inside_claims(
    connection: Connection, lines: dict[int, list[_Line]], lists: Sequence[_Spot], pieces: Sequence[_Spot]
) -> Iterator[Claim]:
    by_key: dict[tuple[bytes | int, tuple[str, ...]], list[_Spot]] = {}
    for spot in pieces:
        by_key.setdefault(spot.key, []).append(spot)
    lies: dict[int, tuple[Place, ...]] = {}
    for at in lists:
        assert isinstance(at.root, int)
        for line in lines[at.piece_id]:
            named = _named(line, at.parts[-1])
            if named is None:
                continue
            parts = (*at.parts[:-1], *named)
            hits = [
                spot
                for spot in by_key.get((at.root, tuple(part.casefold() for part in parts)), ())
                if spot.piece_id != at.piece_id
            ]
            exact = [one for one in hits if one.parts == parts]
            for spot in exact or [one for one in hits if _alone(connection, one, "", parts[-1])]:
                if at.root not in lies:
                    lies[at.root] = places_of(connection, [at.root], 1).get(at.root, (Place("?"),))
                around = lies[at.root][0]
                place = Place(around.path, (*around.inside, "/".join(at.parts)))
                target = Place(around.path, (*around.inside, "/".join(spot.parts)))
                yield Claim(
                    line.list_id, place, line.line, line.algorithm, line.digest, line.name, spot.piece_id, target
                )


def digests_of(connection: Connection, ids: Iterable[int]) -> dict[tuple[int, str], bytes]:
    """The known digests of pieces, SHA-256 too, by piece and algorithm."""
    found: dict[tuple[int, str], bytes] = {}
    for some in bulk.batches(ids):
        for id_, sha in connection.execute(
            select(piece.c.id, piece.c.sha256).where(bulk.among(piece.c.id, some))
        ).all():
            found[id_, SHA256] = sha
        c = digest.c
        for id_, name, value in connection.execute(
            select(c.piece_id, c.algorithm, c.value).where(bulk.among(c.piece_id, some))
        ).all():
            found[id_, name] = value
    return found


def wanted_digests(connection: Connection) -> list[tuple[int, str, tuple[str, ...]]]:
    """The pieces (id, SHA-256) that a list names by another algorithm, and which of these digests are not known yet."""
    wanted: dict[int, set[str]] = {}
    c = list_entry.c
    by_list: dict[int, list[_Line]] = {}
    rows = select(c.list_id, c.line, c.algorithm, c.digest, c.name).where(c.algorithm != SHA256)
    for list_id, line, algorithm, value, name in connection.execute(rows).all():
        by_list.setdefault(list_id, []).append(_Line(list_id, line, algorithm, value, names.from_bytes(name)))
    loose, inside = _spots(connection, sorted(by_list))
    for at in loose:
        assert isinstance(at.root, bytes)
        _want_loose(connection, at.root, at.parts[0], by_list[at.piece_id], wanted)
    for at in inside:
        assert isinstance(at.root, int)
        _want_inside(connection, at.root, at.parts, by_list[at.piece_id], wanted)
    _want_recorded(connection, wanted)
    known = digests_of(connection, wanted)
    shas = {id_: value.hex() for (id_, name), value in known.items() if name == SHA256}
    lacking = {id_: tuple(sorted(name for name in asked if (id_, name) not in known)) for id_, asked in wanted.items()}
    return sorted((id_, shas[id_], asked) for id_, asked in lacking.items() if asked)


def _want_loose(
    connection: Connection, root: bytes, list_name: str, lines: Sequence[_Line], wanted: dict[int, set[str]]
) -> None:
    asked: dict[tuple[str, ...], dict[str, set[str]]] = {}
    for line in lines:
        parts = _named(line, list_name)
        if parts is not None:
            under = tuple(part.casefold() for part in parts[:-1])
            asked.setdefault(under, {}).setdefault(parts[-1].casefold(), set()).add(line.algorithm)
    folders = folders_under(connection, root, SEPARATOR)
    if set(asked) == {()}:
        folders = {path: id_ for path, id_ in folders.items() if path == root}
    for path, id_ in folders.items():
        below = names.shown(path[len(root) :]).casefold()
        under = tuple(part for part in below.split(names.shown(SEPARATOR)) if part)
        if under not in asked:
            continue
        rows = select(file.c.name, file.c.piece_id).where(file.c.folder_id == id_)
        for name, piece_id in connection.execute(rows).all():
            algorithms = asked[under].get(names.shown(name).casefold())
            if algorithms:
                wanted.setdefault(piece_id, set()).update(algorithms)


def _want_inside(
    connection: Connection, archive_id: int, at: tuple[str, ...], lines: Sequence[_Line], wanted: dict[int, set[str]]
) -> None:
    asked: dict[tuple[str, ...], set[str]] = {}
    for line in lines:
        named = _named(line, at[-1])
        if named is not None:
            key = tuple(part.casefold() for part in (*at[:-1], *named))
            asked.setdefault(key, set()).add(line.algorithm)
    rows = select(member.c.name, member.c.piece_id).where(member.c.archive_id == archive_id)
    for name, piece_id in connection.execute(rows).all():
        parts = names.listed_parts(names.from_bytes(name))
        algorithms = asked.get(tuple(part.casefold() for part in parts)) if parts else None
        if algorithms and piece_id is not None:
            wanted.setdefault(piece_id, set()).update(algorithms)


def _want_recorded(connection: Connection, wanted: dict[int, set[str]]) -> None:
    """A recorded list may lie anywhere: the pieces it could mean are those with a name of its last parts."""
    asked: dict[bytes, set[str]] = {}
    c = recorded_entry.c
    for key, algorithm in connection.execute(select(c.base_key, c.algorithm).where(c.algorithm != SHA256)).all():
        asked.setdefault(key, set()).add(algorithm)
    if not asked:
        return
    everything = set().union(*(asked[key] for key in asked if key == b"")) if b"" in asked else set()
    for name, piece_id in connection.execute(select(file.c.name, file.c.piece_id)).all():
        algorithms = asked.get(names.to_bytes(names.shown(name).casefold()), set()) | everything
        if algorithms:
            wanted.setdefault(piece_id, set()).update(algorithms)
    for name, piece_id in connection.execute(select(member.c.name, member.c.piece_id)).all():
        algorithms = asked.get(names.base_key(names.from_bytes(name)), set()) | everything
        if algorithms and piece_id is not None:
            wanted.setdefault(piece_id, set()).update(algorithms)
