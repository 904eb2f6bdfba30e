"""What a format reader found in a piece. Offsets and lengths are bytes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class SignedBy:
    """Whose key made a signature: the names in the signer's certificate, and the day it expires (UTC, YYYY-MM-DD)."""

    subject: str
    issuer: str
    expires: str

    def __str__(self) -> str:
        return f"{self.subject} (issued by {self.issuer}, expires {self.expires})"


FieldValue = int | str | bool | tuple[int, ...] | tuple[str, ...] | tuple[SignedBy, ...] | None


@dataclass(frozen=True, slots=True)
class Field:
    """One value read from a piece.

    `offset` is absolute in the piece (in the unpacked bytes where the part says `inside="unpacked"`);
    None means that the value was worked out and stands nowhere. `meaning` is one line for a person,
    `source` the clause of the standard that names the field.
    """

    name: str
    value: FieldValue
    offset: int | None = None
    length: int = 0
    meaning: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class CardId:
    """The PCI IDs one image names: its vendor, device, its device list (without the closing 0) and class (24 bits)."""

    vendor: int
    device: int
    devices: tuple[int, ...] = ()
    class_code: int | None = None


FIELD, NAMED, NUMBER = "field", "named", "number"
TRUST = (FIELD, NAMED, NUMBER)
"""How far a claim is to be trusted, the best first: a standard's field; a text behind a word that announces it; a
number that looks like one. What a family's pattern finds is no reading's claim: it is asked for (`Match`)."""


@dataclass(frozen=True, slots=True)
class VersionClaim:
    """A version as the bytes state it, and where: `source` names the field or string it was read from.

    `trust` is one of TRUST. A reading's own claims stand in that order. None of them is "the version".
    """

    value: str
    source: str
    offset: int | None = None
    trust: str = FIELD


@dataclass(frozen=True, slots=True)
class DateClaim:
    """A day that the bytes state, and where. `value` is YYYY-MM-DD; as written where day and month may be exchanged."""

    value: str
    source: str
    offset: int | None = None


@dataclass(frozen=True, slots=True)
class Fault:
    """Something wrong with the bytes (in `faults`) or merely odd (in `notes`). Never an exception."""

    code: str
    text: str
    offset: int | None = None


@dataclass(frozen=True, slots=True)
class ListEntry:
    """One line of a checksum list: `algorithm` is md5, sha1, sha224, sha256, sha384 or sha512; `digest` lower-case hex.

    `name` is as the list spells it, unescaped; empty where the list is a bare digest. `line` counts from 1.
    """

    algorithm: str
    digest: str
    name: str
    line: int


@dataclass(frozen=True, slots=True)
class Member:
    """One entry of an archive's directory, as listed; nothing here is trusted.

    `header_offset` is where the entry's own (local) header lies, absolute in the piece; `method` and `flags` are the
    directory's numbers as the format defines them. They are what unpacking needs. `size` is None where the archive
    does not say before it is unpacked.
    """

    name: str
    size: int | None
    packed_size: int
    crc32: int | None
    encrypted: bool = False
    folder: bool = False
    fault: str = ""
    header_offset: int | None = None
    method: int = 0
    flags: int = 0


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of the piece for the ruler: an image, padding, a signature, unused space."""

    name: str
    offset: int
    length: int


@dataclass(frozen=True, slots=True)
class Reading:
    """What one reader found. `parts` are readings of what lies inside; `span` is the stretch this reading covers.

    `format` is the reader's own name, `kind` one of the words of the command line's contract, `title` one line for
    a person. `inside` is "unpacked" where offsets count in unpacked bytes, else "". Field names are unique within
    a reading. `layer` is 0 for what lies in the piece's own bytes; a part whose layer is above its parent's was
    unpacked from it, and its offsets count in bytes of its own.
    """

    format: str
    kind: str
    title: str
    offset: int = 0
    length: int = 0
    fields: tuple[Field, ...] = ()
    parts: tuple[Reading, ...] = ()
    ids: tuple[CardId, ...] = ()
    versions: tuple[VersionClaim, ...] = ()
    faults: tuple[Fault, ...] = ()
    notes: tuple[Fault, ...] = ()
    entries: tuple[ListEntry, ...] = ()
    members: tuple[Member, ...] = ()
    spans: tuple[Span, ...] = ()
    inside: str = ""
    dates: tuple[DateClaim, ...] = ()
    layer: int = 0

    def value(self, name: str) -> FieldValue:
        """The value of the field called `name`, or None where the reading has none."""
        for one in self.fields:
            if one.name == name:
                return one.value
        return None


@dataclass(frozen=True, slots=True)
class Match:
    """Where a family's pattern was found in a piece's bytes, and the text its placeholder took ("" if it has none)."""

    offset: int
    length: int
    value: str = ""


@dataclass(frozen=True, slots=True)
class LayoutAnswer:
    """How a piece stands to a family's EEPROM layout.

    `state`: "fits" (magic and size right), "size" (magic at its place, another size), "swapped" (the magic shows
    only after a 16-bit swap), "repeated" (the right image more than once), "blank" (the exact size, all 00h or all
    FFh, whole or in every layout field), "other" (none of these). `values` are the layout's fields as read, by their
    `is` name, `fields` the same with offsets; `empty` names those that hold only a declared fill. `sum_ok` is None
    where the layout declares no sum.
    """

    state: str
    fields: tuple[Field, ...] = ()
    values: Mapping[str, FieldValue] = field(default_factory=dict)
    empty: frozenset[str] = frozenset()
    sum_ok: bool | None = None
