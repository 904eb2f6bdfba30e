"""Read one file on disk: open, look, hash, read, look again."""

from __future__ import annotations

import hashlib
import os
import stat
import time
from collections.abc import Callable
from dataclasses import dataclass

from catalogue.formats.view import BytesView, FileView, View
from catalogue.intake.archives import Road, is_archive, open_archive
from catalogue.intake.hashing import read_into, sha256_of
from catalogue.intake.reading import VERSIONS, read_view
from catalogue.store.found import PieceFound

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
Stamp = tuple[int, int, int, int]
"""size, mtime_ns, ctime_ns, inode (signed)."""


class Unread(Exception):
    """A file could not be read; the text is the reason in words."""


@dataclass(slots=True)
class Content:
    """What a file held, and its stamp when it was read; its mtime_ns is -1 where it may still be changing."""

    stamp: Stamp
    piece: PieceFound


def stamp_of(looked: os.stat_result) -> Stamp:
    """What a file is compared by."""
    inode = looked.st_ino
    return looked.st_size, looked.st_mtime_ns, looked.st_ctime_ns, inode if inode < 1 << 63 else inode - (1 << 64)


def reason(error: OSError) -> str:
    """An error of the system in words."""
    return f"{error.strerror or type(error).__name__}."


def read_file(path: bytes, buffer: bytearray, ended: Callable[[], bool]) -> Content:
    """Read the regular file at `path` whole, as it was at one moment. Raises Unread and hashing.Ended."""
    try:
        for _ in range(TRIES):
            content = _once(path, buffer, ended)
            if content is not None:
                return content
    except FileNotFoundError as error:
        raise Unread("It vanished while it was being indexed.") from error
    except OSError as error:
        raise Unread(reason(error)) from error
    except ValueError as error:
        raise Unread(f"Its name cannot be used ({error}).") from error
    raise Unread("It changes while it is being read: index it again when whatever writes it is done.")


def _once(path: bytes, buffer: bytearray, ended: Callable[[], bool]) -> Content | None:
    begun = time.time_ns()
    fd = os.open(path, OPEN_FLAGS)
    try:
        before = os.fstat(fd)
        if not stat.S_ISREG(before.st_mode):
            raise Unread("It is no longer a regular file.")
        stamp = stamp_of(before)
        piece = _content(fd, before.st_size, buffer, path, ended)
        if piece is None or stamp_of(os.fstat(fd)) != stamp:
            return None
    finally:
        os.close(fd)
    size, mtime, ctime, inode = stamp
    newest = max(mtime, ctime)
    if begun - newest < (FRESH_NS if mtime % 1_000_000_000 else FRESH_FAT_NS):
        mtime = -1
    return Content((size, mtime, ctime, inode), piece)


def _content(fd: int, size: int, buffer: bytearray, path: bytes, ended: Callable[[], bool]) -> PieceFound | None:
    """What the open file holds; None where it holds more or less than `size`."""
    view: View
    if size < SHORT_BYTES:
        data = os.read(fd, size + 1) if size else b""
        if len(data) != size:
            return None
        digest = hashlib.sha256(data).digest()
        view = BytesView(data)
    elif size <= len(buffer):
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
    what = os.fsdecode(path)
    reading, depth = read_view(view, what)
    piece = PieceFound(digest, size, reading, VERSIONS.get(reading.format, 0), depth)
    if is_archive(reading):
        piece.members, piece.archive_why = open_archive(view, Road(size, ended), what)
    return piece
