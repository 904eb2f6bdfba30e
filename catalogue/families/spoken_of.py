"""Which family files speak of an ID or a name at all, by their bytes, so that the others need not be read as families.

A TOML string without escapes stands in the file as it is (TOML 1.0, "String"), so an ID or a name that does not stand
in a file's bytes is not said by it. A file with an escape that can spell a letter or digit, or join lines, is always
taken. Nothing is believed of a file that is left out, and what is taken is read and proved whole.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from catalogue.families.limits import MAX_FILE_BYTES
from catalogue.families.source import read_source

_ID = re.compile(rb"[0-9A-Fa-f]{4}:[0-9A-Fa-f]{4}")
_ESCAPE = re.compile(rb"\\[uUx\s]")
_WORD = re.compile(rb"[A-Za-z0-9._-]+")
"""An id stands between quotes or line ends, so it is one of these at its full length."""


_FEW = 8
"""Up to so many IDs are looked for one by one, which is quicker than finding all that a file holds."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked after: families that one of these vendors and devices may be of, or that have one of these ids."""

    cards: frozenset[tuple[int, int]] = field(default=frozenset())
    ids: frozenset[str] = field(default=frozenset())


def speaking(files: Iterable[Path], asked: Asked) -> set[Path]:
    """Of `files` those that may be of a family asked for, all that those stand on, vary or share an id with.

    A file that cannot be opened is among them, so that whoever reads it says so.
    """
    left: dict[Path, bytes] = {}
    taken: list[Path] = []
    cards = {b"%04X:%04X" % card for card in asked.cards}
    for file in files:
        data = _bytes(file)
        if data is None or _ESCAPE.search(data) or _has(data, cards):
            taken.append(file)
        else:
            left[file] = data
    names = set(asked.ids)
    done: set[str] = set()
    out = set(taken)
    while taken or names - done:
        for file in taken:
            names |= _names(file)
        fresh = [one.encode("utf-8", "surrogatepass") for one in names - done]
        done |= names
        taken = [file for file, data in left.items() if any(one in data and one in _words(data) for one in fresh)]
        for file in taken:
            del left[file]
        out.update(taken)
    return out


def _bytes(file: Path) -> bytes | None:
    try:
        with file.open("rb") as stream:
            return stream.read(MAX_FILE_BYTES + 1)
    except OSError:
        return None


def _has(data: bytes, cards: set[bytes]) -> bool:
    if len(cards) > _FEW:
        return not cards.isdisjoint(_ids(data))
    upper = data.upper()
    return any(one in upper for one in cards)


@lru_cache(maxsize=1_000)
def _ids(data: bytes) -> frozenset[bytes]:
    return frozenset(one.upper() for one in _ID.findall(data))


@lru_cache(maxsize=1_000)
def _words(data: bytes) -> frozenset[bytes]:
    return frozenset(_WORD.findall(data))


def _names(file: Path) -> set[str]:
    """The id of a file, and of the family it stands on."""
    source = read_source(file)
    below = (source.root.table or {}).get("extends") if source.root is not None else None
    said = (source.id, below.value if below is not None else None)
    return {one for one in said if isinstance(one, str) and one}
