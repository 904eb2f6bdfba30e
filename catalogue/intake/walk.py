"""Look at folders: which files lie in them, which folders, and what could not be looked at.

Symbolic links are never followed, whether they lead out of the folder or not: what a link inside the folder leads to is
met at its own place, and what lies outside was not asked for. Sockets, pipes and devices are never opened. Both are
counted as skipped. Only a path that a person names in the call may itself be a link.
"""

from __future__ import annotations

import os
import stat
from dataclasses import dataclass, field

from catalogue.intake.files import Stamp, reason, stamp_of


@dataclass(slots=True)
class Looked:
    """What one folder holds: files with their stamps, the names of folders, both in order of their names."""

    files: list[tuple[bytes, Stamp]] = field(default_factory=list)
    folders: list[bytes] = field(default_factory=list)
    unreadable: list[tuple[bytes, str]] = field(default_factory=list)
    skipped: int = 0
    failed: str = ""
    """Why the folder itself could not be read; then the rest is not to be relied on."""


def look(path: bytes) -> Looked:
    """Look at one folder."""
    found = Looked()
    try:
        with os.scandir(path) as entries:
            for entry in entries:
                _take(entry, found)
    except OSError as error:
        found.failed = reason(error)
    found.files.sort()
    found.folders.sort()
    return found


def _take(entry: os.DirEntry[bytes], found: Looked) -> None:
    try:
        if entry.is_dir(follow_symlinks=False):
            if _is_junction(entry):
                found.skipped += 1
            else:
                found.folders.append(entry.name)
            return
        if not entry.is_file(follow_symlinks=False):
            found.skipped += 1
            return
        looked = entry.stat(follow_symlinks=False)
    except FileNotFoundError:
        return
    except OSError as error:
        found.unreadable.append((entry.name, reason(error)))
        return
    if os.name == "nt":  # there DirEntry.stat gives no inode
        try:
            looked = os.lstat(entry.path)
        except OSError as error:
            found.unreadable.append((entry.name, reason(error)))
            return
    if stat.S_ISREG(looked.st_mode):
        found.files.append((entry.name, stamp_of(looked)))
    else:
        found.skipped += 1


def _is_junction(entry: os.DirEntry[bytes]) -> bool:
    """A Windows junction is a folder that leads elsewhere (Python 3.12 can tell)."""
    tells = getattr(entry, "is_junction", None)
    return bool(tells and tells())
