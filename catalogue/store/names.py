"""Names of files and members as the database keeps them, and the folded forms that are compared."""

from __future__ import annotations

import os
import sys

_ENCODING = sys.getfilesystemencoding()
_ERRORS = sys.getfilesystemencodeerrors()


def to_bytes(name: str) -> bytes:
    """A member's or list entry's name, losslessly: UTF-8, with surrogates as they are."""
    try:
        return name.encode("utf-8")
    except UnicodeEncodeError:
        return name.encode("utf-8", "surrogatepass")


def from_bytes(name: bytes) -> str:
    """The name that `to_bytes` was given."""
    return name.decode("utf-8", "surrogatepass")


def shown(name: bytes) -> str:
    """A file's name or path as text, as `os.fsdecode` gives it (which takes twice as long)."""
    return name.decode(_ENCODING, _ERRORS)


def plain(text: str) -> str:
    """Text fit for a text column: no lone surrogates, no NUL."""
    return text.encode("utf-8", "replace").decode("utf-8").replace("\0", "\ufffd")


def listed_parts(name: str) -> tuple[str, ...] | None:
    """The parts of a path as a checksum list or an archive spells it, relative to where that lies.

    Backslashes count as slashes, `./` and doubled slashes say nothing. None for what leads out of the bundle: an
    absolute path, a drive letter, `..`; or for nothing at all.
    """
    name = name.replace("\\", "/")
    if name.startswith("/") or (len(name) > 1 and name[1] == ":" and name[0].isalpha()):
        return None
    parts = tuple(part for part in name.split("/") if part not in ("", "."))
    return None if not parts or ".." in parts else parts


def base_key(name: str) -> bytes:
    """The last part of a listed name, case folded, for looking up; empty where there is none."""
    parts = listed_parts(name)
    return to_bytes(parts[-1].casefold()) if parts else b""


def raw(name: str) -> bytes:
    """The file system's bytes of a name that `shown` gave."""
    return os.fsencode(name)


def last_part(name: str) -> str:
    """The last part of a member's name."""
    return name.replace("\\", "/").rsplit("/", 1)[-1]
