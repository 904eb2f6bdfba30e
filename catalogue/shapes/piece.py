"""A piece: one content, known by its SHA-256, wherever it lies."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from catalogue.shapes.reading import CardId, DateClaim, Fault, Reading, VersionClaim

INTO = " › "
"""Stands between an archive and its member in a place shown to a person."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a piece lies: a file's path, and the names on the way into archives (empty for a loose file).

    `path` is lossless: bytes that are not UTF-8 stand as surrogate escapes (`os.fsdecode`).
    """

    path: str
    inside: tuple[str, ...] = ()

    def __str__(self) -> str:
        return INTO.join((self.path, *self.inside))


@dataclass(frozen=True, slots=True)
class Vouch:
    """One reason to trust a piece's bytes: the rung of the ladder, by whom or what, and the place that shows it.

    `rung` is one of signed, named, ran, agreed, neighbour, none. `algorithm` names the digest it rests on ("crc32"
    for an archive's own check). `since` is when a person recorded it (ISO 8601, UTC), "" where nobody did.
    """

    rung: str
    by: str
    place: str = ""
    algorithm: str = ""
    since: str = ""


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A list entry for this very path in its bundle, or a recorded source, that gives another digest."""

    place: str
    line: int
    algorithm: str
    want: str
    have: str
    name: str


@dataclass(frozen=True, slots=True)
class SignatureCheck:
    """What is known of a signature that lies beside a piece, or is wrapped round it.

    `state`: "holds" (a recorded key signed these very bytes), "broken" (it names a recorded key, which did not),
    "unproved" (it cannot be relied on, and `why`), "taken-back" (a recorded key signed these bytes, and a person took
    that key back: `why`), "no-key" (no recorded key is the one it names). `key` is the key's name for people, `source`
    where a person had it from.
    """

    place: str
    state: str
    key: str
    source: str = ""
    why: str = ""
    algorithm: str = ""


@dataclass(frozen=True, slots=True)
class PieceInfo:
    """A piece as lists show it."""

    sha256: str
    size: int
    kind: str
    title: str
    places: tuple[Place, ...] = ()
    ids: tuple[CardId, ...] = ()
    versions: tuple[VersionClaim, ...] = ()
    faults: tuple[Fault, ...] = ()
    vouch: tuple[Vouch, ...] = ()
    dates: tuple[DateClaim, ...] = ()


@dataclass(frozen=True, slots=True)
class PieceDetail:
    """One piece read in full. `id_names` gives names for PCI IDs as "vvvv" or "vvvv:dddd" in lower-case hex."""

    info: PieceInfo
    reading: Reading
    contradicted: tuple[Contradiction, ...] = ()
    signatures: tuple[SignatureCheck, ...] = ()
    id_names: Mapping[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Beside:
    """A piece in the same folder or the same archive as another one. `name` is its last part, in lower case."""

    name: str
    sha256: str
    size: int
    kind: str


@dataclass(frozen=True, slots=True)
class PieceFacts:
    """All that the catalogue knows of one piece, as evidence for judging it.

    `places` are sorted. `vouches` and `contradictions` hold what lists and archives say; a family's own digests and
    signatures are not known here. `beside` may name the piece itself (one tuple is shared by all pieces of a bundle).
    `member_faults` are faults of the archive entry it was read from, where every place of it has one; `beside_faults`
    those of other entries of the archives that hold it. `within` holds the SHA-256s of the archives that it was
    unpacked from soundly, at any depth, sorted.
    """

    info: PieceInfo
    reading: Reading
    places: tuple[Place, ...]
    vouches: tuple[Vouch, ...] = ()
    contradictions: tuple[Contradiction, ...] = ()
    beside: tuple[Beside, ...] = ()
    member_faults: tuple[Fault, ...] = ()
    within: tuple[str, ...] = ()
    signatures: tuple[SignatureCheck, ...] = ()
    beside_faults: tuple[Fault, ...] = ()
