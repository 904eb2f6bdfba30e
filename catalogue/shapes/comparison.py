"""What differs between two pieces, A and B: fields, bytes, members of bundles. Offsets and lengths are bytes."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Side:
    """One of the two that were compared: `what` as it was named, and the piece it is.

    A folder has no `sha256` and kind "folder"; its size is that of its files. `faults` are the texts of its faults.
    """

    what: str
    sha256: str
    size: int
    kind: str
    title: str
    faults: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FieldDifference:
    """One value that differs. `a` and `b` are the values; None on the side where `only` says that it is absent.

    `part` is the way to the part that holds it ("piece" for the piece itself), `only` is "a" or "b" where just that
    side has it, else "". Offsets are absolute in the piece, or in the unpacked bytes where `inside` says "unpacked";
    None for values that were worked out.
    """

    part: str
    name: str
    a: object
    b: object
    only: str = ""
    a_offset: int | None = None
    b_offset: int | None = None
    a_length: int = 0
    b_length: int = 0
    inside: str = ""
    meaning: str = ""


@dataclass(frozen=True, slots=True)
class Where:
    """A part and one of its fields (or stretches) that bytes lie in; `name` is "" where no field covers them."""

    part: str
    name: str


@dataclass(frozen=True, slots=True)
class RangeDifference:
    """A stretch of bytes that differs: `a_length` bytes at `offset` of A stand for `b_length` bytes at `b_offset` of B.

    `length` is the longer of the two; one is 0 where bytes were put in or left out. `a` and `b` are the first bytes as
    hex; `cut` says that there are more than are shown.
    """

    offset: int
    length: int
    a: str
    b: str
    a_length: int
    b_offset: int
    b_length: int
    cut: bool = False
    where: tuple[Where, ...] = ()


@dataclass(frozen=True, slots=True)
class MemberDifference:
    """A member that is not the same in both bundles.

    `state` is "added" (only in B), "gone" (only in A), "changed", "moved" (the same bytes under another name) or
    "unreadable" (it could not be compared; `why` says why). `name` is the name in B, in A for what is gone; `was` the
    name in A where that is another. `a` and `b` are SHA-256s, "" where there is none.
    """

    name: str
    state: str
    a: str
    b: str
    a_size: int
    b_size: int
    kind: str
    was: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class Comparison:
    """All that differs between `a` and `b`.

    `same`: every byte is the same (of two bundles that are not both archives: every member). `fields_same` counts
    values that are equal on both sides, `fields_left_out` differing ones beyond the bound. `bytes_differing` counts
    bytes that differ or have no counterpart; ranges closer to each other than `joined_within` bytes are told as one.
    `members_same` counts members that are the same in both bundles; None where A and B are no bundles.
    `layout` names the family and layout by which two EEPROM images were read.
    """

    same: bool
    fields: tuple[FieldDifference, ...]
    ranges: tuple[RangeDifference, ...]
    a: Side
    b: Side
    fields_same: int = 0
    fields_left_out: int = 0
    bytes_differing: int = 0
    joined_within: int = 0
    members: tuple[MemberDifference, ...] = ()
    members_same: int | None = None
    members_left_out: int = 0
    layout: str = ""
    notes: tuple[str, ...] = ()
