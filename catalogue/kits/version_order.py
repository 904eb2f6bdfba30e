"""Five ways to order versions; a family names its own.

Each order turns a version into a key. Keys compare as tuples do, so every order is total and transitive over any
text at all, and two forms with one key are interchangeable everywhere. Text that an order cannot read stands below
all that it can, ordered as `numeric` does.

Decisions:
- numeric: runs of digits and of letters in turn, whatever stands between them; zeros at the end do not count, letters
  stand before numbers. So 016.0 = 16, 21.00.05 = 21.0.5, 6.00 < 6.00b < 6.00.1. One leading "v" before a digit is left
  out. Letters mean no release stage: common practice, no published source.
- date: the year stands first as four digits (2026-02-10, 20260210, 2026.02), or the month is a name (10-Feb-2026).
  02-10-2026 says neither day nor month, so it is not read.
- listed: only what is listed is ordered; everything else stands below it and is never beyond what is known.
- Numbers are compared as digits, so no length of them costs more than its length.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TypeAlias

Key: TypeAlias = tuple[object, ...]
Number: TypeAlias = tuple[int, str]
_ZERO = (1, (0, ""))

ORDERS = ("numeric", "debian", "semver", "date", "listed")

_RUN = re.compile(r"[0-9]+|[a-z]+")
_SEMVER = re.compile(
    r"(0|[1-9][0-9]*)\.(0|[1-9][0-9]*)\.(0|[1-9][0-9]*)"
    r"(?:-((?:0|[1-9][0-9]*|[0-9]*[A-Za-z-][0-9A-Za-z-]*)(?:\.(?:0|[1-9][0-9]*|[0-9]*[A-Za-z-][0-9A-Za-z-]*))*))?"
    r"(?:\+[0-9A-Za-z-]+(?:\.[0-9A-Za-z-]+)*)?"
)
"""Semantic Versioning 2.0.0, clauses 2, 9 and 10; build metadata does not count (clause 10)."""
_YEAR_FIRST = re.compile(r"([0-9]{4})(?:[-._]?([0-9]{2}|(?<=[-._])[0-9]))?(?:[-._]?([0-9]{2}|(?<=[-._])[0-9]))?")
_NAMED_MONTH = re.compile(r"([0-9]{1,2})[-._]?([a-z]{3,9})[-._]?([0-9]{4})")
_MONTHS = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip


def _number(digits: str) -> Number:
    """A key for a run of decimal digits of any length; an empty run is 0."""
    bare = digits.lstrip("0")
    return len(bare), bare


@lru_cache(maxsize=65_536)
def numeric_key(version: str) -> Key:
    """Key of the `numeric` order."""
    text = version.lower()
    if len(text) > 1 and text[0] == "v" and text[1] in "0123456789":
        text = text[1:]
    runs: list[tuple[int, object]] = [
        (1, _number(run)) if run[0] in "0123456789" else (0, run) for run in _RUN.findall(text)
    ]
    while runs and runs[-1] == _ZERO:
        runs.pop()
    return tuple(runs)


@lru_cache(maxsize=65_536)
def debian_key(version: str) -> Key:
    """Key of Debian's order (Debian Policy 5.6.12): epoch, then upstream version, then revision."""
    epoch, colon, rest = version.partition(":")
    if not colon or not epoch.isascii() or not epoch.isdigit():
        epoch, rest = "", version
    upstream, _, revision = rest.rpartition("-") if "-" in rest else (rest, "", "")
    return _number(epoch), _debian_part(upstream), _debian_part(revision)


def _debian_part(text: str) -> Key:
    """Runs of non-digits and of digits in turn, at least one of each, and an end that sorts after `~` only."""
    key: list[object] = []
    runs = re.findall(r"([^0-9]*)([0-9]*)", text)
    for other, digits in runs[:-1] or runs:
        key.append((*map(_debian_weight, other), 0))
        key.append(_number(digits))
    return *key, (0,)


def _debian_weight(character: str) -> int:
    """Where one character sorts: `~` before the end (0), the end before letters, letters before all else."""
    if character == "~":
        return -1
    if character.isascii() and character.isalpha():
        return ord(character)
    return ord(character) + 0x100


@lru_cache(maxsize=65_536)
def semver_key(version: str) -> Key:
    """Key of the `semver` order (Semantic Versioning 2.0.0, clause 11)."""
    found = _SEMVER.fullmatch(version)
    if found is None:
        return 0, numeric_key(version)
    major, minor, patch, before = found.groups()
    if before is None:
        stage: Key = (1,)
    else:
        stage = (0, tuple((0, _number(one)) if one.isdigit() else (1, one) for one in before.split(".")))
    return 1, _number(major), _number(minor), _number(patch), stage


@lru_cache(maxsize=65_536)
def date_key(version: str) -> Key:
    """Key of the `date` order; a day or month left out stands before the first."""
    text = version.strip().lower()
    year = month = day = 0
    if (found := _YEAR_FIRST.fullmatch(text)) is not None:
        year, month, day = (int(one or 0) for one in found.groups())
    elif (named := _NAMED_MONTH.fullmatch(text)) is not None:
        whole = [number for number, name in enumerate(_MONTHS, 1) if named[2] in (name, name[:3])]
        day, month, year = int(named[1]), whole[0] if whole else 99, int(named[3])
    if year == 0 or month > 12 or day > 31:
        return 0, numeric_key(version)
    return 1, year, month, day


@dataclass(frozen=True, slots=True)
class Order:
    """One order of versions. `compare` answers a number below, equal to or above 0, as its first is older or newer."""

    name: str
    key: Callable[[str], Key]
    listed: tuple[str, ...] = field(default=())

    def compare(self, one: str, other: str) -> int:
        """Below 0 where `one` is older than `other`, 0 where they are one version, above 0 where it is newer."""
        mine, theirs = self.key(one), self.key(other)
        return (mine > theirs) - (mine < theirs)

    def same(self, one: str, other: str) -> bool:
        """Whether both are one version."""
        return self.key(one) == self.key(other)

    def speaks_of(self, version: str) -> bool:
        """Whether this order can place `version`: `listed` knows what is listed, `semver` and `date` their forms."""
        return self.name in ("numeric", "debian") or self.key(version)[0] == 1


def order(name: str, listed: Sequence[str] = ()) -> Order:
    """The order called `name`, `numeric` where nobody knows it; `listed` (oldest first) is for the order `listed`."""
    if name == "listed":
        places = {numeric_key(version): place for place, version in enumerate(listed)}

        def listed_key(version: str) -> Key:
            key = numeric_key(version)
            return (1, places[key]) if key in places else (0, key)

        return Order(name, listed_key, tuple(listed))
    keys = {"debian": debian_key, "semver": semver_key, "date": date_key}
    return Order(name, keys.get(name, numeric_key))
