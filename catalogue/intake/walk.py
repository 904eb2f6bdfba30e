"""Look at folders: which files lie in them, which folders, and what could not be looked at.

Symbolic links are never followed, whether they lead out of the folder or not: what a link inside the folder leads to is
met at its own place, and what lies outside was not asked for. Sockets, pipes and devices are never opened. Both are
counted as skipped. Only a path that a person names in the call may itself be a link.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass, field

from catalogue.intake.files import reason, stamp_of
from catalogue.store.found import Stamp

_ENTRY_HAS_INODE = os.name != "nt"
"""On Windows DirEntry.stat gives no inode."""


@dataclass(slots=True)
class Looked:
    """What one folder holds: files with their stamps, the names of folders, both in order of their names.

    `failed` says why the folder itself could not be read; then the rest is not to be relied on.
    """

    files: list[tuple[bytes, Stamp]] = field(default_factory=list)
    folders: list[bytes] = field(default_factory=list)
    unreadable: list[tuple[bytes, str]] = field(default_factory=list)
    skipped: int = 0
    failed: str = ""


def look(path: bytes) -> Looked:
    """Look at one folder."""
    found = Looked()
    try:
        with os.scandir(path) as entries:
            _take(entries, found)
    except OSError as error:
        found.failed = reason(error)
    found.files.sort()
    found.folders.sort()
    return found


def _take(entries: Iterable[os.DirEntry[bytes]], found: Looked) -> None:
    files = found.files
    for entry in entries:
        try:
            if entry.is_file(follow_symlinks=False):
                looked = entry.stat(follow_symlinks=False) if _ENTRY_HAS_INODE else os.lstat(entry.path)
                files.append((entry.name, stamp_of(looked)))
            elif entry.is_dir(follow_symlinks=False) and not _is_junction(entry):
                found.folders.append(entry.name)
            else:
                found.skipped += 1
        except FileNotFoundError:  # gone since the folder was listed
            continue
        except OSError as error:
            found.unreadable.append((entry.name, reason(error)))


def _is_junction(entry: os.DirEntry[bytes]) -> bool:
    """A Windows junction is a folder that leads elsewhere (Python 3.12 can tell)."""
    tells = getattr(entry, "is_junction", None)
    return bool(tells and tells())
