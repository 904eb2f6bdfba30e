"""What a format reader is: one row of the table in `catalogue.formats`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

from catalogue.formats.view import View
from catalogue.shapes.reading import Reading

FIRST_BYTES = 4
TEXT_BYTES = 512


class Looks(Enum):
    """How a reader judges a first look."""

    NO = 0
    MAYBE = 1
    SURE = 2


@dataclass(frozen=True, slots=True)
class Reader:
    """One published format.

    `name` is the reading's `format`. `kinds` lists every kind its readings may have. `looks_like` looks at few
    bytes. `read` never raises but for the view's OSError, returns None where a MAYBE turned out wrong, and stays
    inside `limits`. `version` rises whenever what it says changes, so that what it read is read again; `sees` rises
    as well where it takes or refuses other bytes than before, so that what others read is looked at again. `alone`
    says that it never looks for other formats inside. `source` names the standard. `depth` says in one line what is
    read, for the table in the README. `first` spares a look: whatever does not begin with one of these (at most
    FIRST_BYTES long) is not of the format; empty where no bytes are fixed. `text` spares a look too: a zero byte
    among the first TEXT_BYTES rules the format out, unless a byte order mark stands first. `maybe` looks at the
    whole of a short piece at once, and is False only where `looks_like` says NO.
    """

    name: str
    kinds: tuple[str, ...]
    looks_like: Callable[[View], Looks]
    read: Callable[[View], Reading | None]
    version: int
    source: str
    depth: str
    first: tuple[bytes, ...] = ()
    text: bool = False
    maybe: Callable[[bytes], bool] | None = None
    sees: int = 1
    alone: bool = False
