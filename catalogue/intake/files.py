"""Read one file on disk: open, look, hash, read, look again."""

from __future__ import annotations

import hashlib
import os
import stat
import time
from collections.abc import Callable

from catalogue.formats.reader import FIRST_BYTES
from catalogue.formats.view import BytesView, FileView
from catalogue.intake.archives import Road, open_archive
from catalogue.intake.containers import is_archive
from catalogue.intake.hashing import read_into, sha256_of
from catalogue.intake.reading import VERSIONS, read_short, read_view
from catalogue.store.found import PieceFound, Stamp

SHORT_BYTES = 128 << 10
"""Files shorter than this are read into bytes of their own: quicker than a window on a buffer."""
TRIES = 3
"""Readings of a file that changes while it is read."""
FRESH_NS = 50_000_000
"""A file changed less than this before it was read may change again without its time telling (the clock behind file
times ticks every 1 to 10 ms)."""
FRESH_FAT_NS = 2_000_000_000
"""The same where times are whole seconds, as on FAT, whose step is two seconds."""
OPEN_FLAGS = (
    os.O_RDONLY
    | getattr(os, "O_NOFOLLOW", 0)
    | getattr(os, "O_NONBLOCK", 0)
    | getattr(os, "O_CLOEXEC", 0)
    | getattr(os, "O_BINARY", 0)
)
_HALF, _WHOLE = 1 << 63, 1 << 64


class Unread(Exception):
    """A file could not be read; the text is the reason in words."""


def stamp_of(looked: os.stat_result) -> Stamp:
    """What a file is compared by."""
    inode = looked.st_ino
    return (
        looked.st_size,
        looked.st_mtime_ns,
        looked.st_ctime_ns,
        inode if inode < _HALF else inode - _WHOLE,
    )


def reason(error: OSError) -> str:
    """An error of the system in words."""
    return f"{error.strerror or type(error).__name__}."


def read_file(path: bytes, buffer: bytearray, ended: Callable[[], bool]) -> tuple[Stamp, PieceFound]:
    """Read the regular file at `path` whole, as it was at one moment: its stamp, and what it held.

    The stamp's mtime_ns is -1 where the file may still be changing. Raises Unread and hashing.Ended.
    """
    try:
        for _ in range(TRIES):
            found = _once(path, buffer, ended)
            if found is not None:
                return found
    except FileNotFoundError as error:
        raise Unread("It vanished while it was being indexed.") from error
    except OSError as error:
        raise Unread(reason(error)) from error
    except ValueError as error:
        raise Unread(f"Its name cannot be used ({error}).") from error
    raise Unread("It changes while it is being read: index it again when whatever writes it is done.")


def _once(path: bytes, buffer: bytearray, ended: Callable[[], bool]) -> tuple[Stamp, PieceFound] | None:
    """One try; None where the file changed meanwhile."""
    begun = time.time_ns()
    fd = os.open(path, OPEN_FLAGS)
    try:
        looked = os.fstat(fd)
        if not stat.S_ISREG(looked.st_mode):
            raise Unread("It is no longer a regular file.")
        stamp = stamp_of(looked)
        piece = (
            _short(fd, stamp[0], path, ended) if stamp[0] < SHORT_BYTES else _long(fd, stamp[0], buffer, path, ended)
        )
        if piece is None or stamp_of(os.fstat(fd)) != stamp:
            return None
    finally:
        os.close(fd)
    size, mtime, ctime, inode = stamp
    newest = mtime if mtime > ctime else ctime
    if begun - newest < FRESH_FAT_NS and begun - newest < (FRESH_NS if mtime % 1_000_000_000 else FRESH_FAT_NS):
        return (size, -1, ctime, inode), piece
    return stamp, piece


def _short(fd: int, size: int, path: bytes, ended: Callable[[], bool]) -> PieceFound | None:
    data = os.read(fd, size + 1) if size else b""
    if len(data) != size:
        return None
    reading, depth = read_short(data, os.fsdecode(path))
    version = VERSIONS.get(reading.format, 0)
    piece = PieceFound(hashlib.sha256(data).digest(), size, reading, version, depth, head=data[:FIRST_BYTES])
    if is_archive(reading):
        piece.members, piece.archive_why = open_archive(BytesView(data), reading, Road(size, ended), os.fsdecode(path))
    return piece


def _long(fd: int, size: int, buffer: bytearray, path: bytes, ended: Callable[[], bool]) -> PieceFound | None:
    what = os.fsdecode(path)
    view: BytesView | FileView
    if size <= len(buffer):
        if read_into(fd, buffer) != size:
            return None
        whole = memoryview(buffer)[:size]
        digest = hashlib.sha256(whole).digest()
        view = BytesView(whole)
    else:
        digest, count = sha256_of(fd, buffer, ended)
        if count != size:
            return None
        view = FileView(fd, size)
    reading, depth = read_view(view, what)
    head = bytes(view.at(0, FIRST_BYTES))
    piece = PieceFound(digest, size, reading, VERSIONS.get(reading.format, 0), depth, head=head)
    if is_archive(reading):
        piece.members, piece.archive_why = open_archive(view, reading, Road(size, ended), what)
    return piece
