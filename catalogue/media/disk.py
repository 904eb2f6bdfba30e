"""Files on a medium: read past the page cache where the system allows, written so that they are really there.

Only plain files are ever read: a link is not followed, a FIFO or device is not opened to wait on.
"""

from __future__ import annotations

import errno
import hashlib
import mmap
import os
import stat
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue
from threading import Thread

from catalogue.errors import NotWorkable

CHUNK = 1 << 20
"""Bytes read at once: a multiple of every sector size, as reading past the cache demands."""
THREADED = 4 << 20
"""From this size on reading and hashing overlap."""
MOST_ENTRIES = 5_000
"""Entries of one folder that are looked at."""

_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_GONE = {errno.EIO, errno.ENODEV, errno.ENXIO, errno.ENOENT, errno.ESTALE, errno.ENOTCONN, errno.ENOTDIR}


class NotPlain(Exception):
    """What bears the name is no plain file: a link, a folder, a FIFO, a device."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of a folder; `kind` is file, folder, link or other (FIFO, socket, device). `size` is bytes."""

    name: str
    kind: str
    size: int = 0


@contextmanager
def world(path: Path, doing: str) -> Iterator[None]:
    """Turns an OSError inside into NotWorkable with a sentence that names `path` and says what to do."""
    try:
        yield
    except OSError as error:
        raise NotWorkable(_sentence(error, path, doing)) from error


def _sentence(error: OSError, path: Path, doing: str) -> str:
    if error.errno in _FULL:
        return f"{path} is full ({doing}); free some room or take a larger medium, then write again."
    if error.errno == errno.EROFS:
        return f"{path} is write-protected ({doing}); take the protection off or use another medium."
    if error.errno in (errno.EACCES, errno.EPERM):
        return f"{path} may not be used by this user ({doing}: {error.strerror}); change that or choose another place."
    if error.errno in _GONE:
        return f"{path} is gone or failing ({doing}: {error.strerror}); plug it in again or use another medium."
    return f"{path}: {doing} failed ({error.strerror or error}); use another medium."


def listing(folder: Path, most: int = MOST_ENTRIES) -> tuple[tuple[Entry, ...], bool]:
    """The folder's entries by name, and whether it holds more than `most` (then only some are here).

    Raises OSError.
    """
    found: list[Entry] = []
    with os.scandir(folder) as entries:
        for one in entries:
            if len(found) == most:
                return tuple(sorted(found, key=lambda entry: entry.name)), True
            found.append(_entry(one))
    return tuple(sorted(found, key=lambda entry: entry.name)), False


def _entry(one: os.DirEntry[str]) -> Entry:
    try:
        facts = one.stat(follow_symlinks=False)
    except OSError:
        return Entry(one.name, "other")
    return Entry(one.name, kind_of(facts.st_mode), facts.st_size)


def kind_of(mode: int) -> str:
    """The kind of an entry by its mode: file, folder, link or other."""
    if stat.S_ISREG(mode):
        return "file"
    if stat.S_ISDIR(mode):
        return "folder"
    return "link" if stat.S_ISLNK(mode) else "other"


@contextmanager
def opened(path: Path) -> Iterator[int]:
    """A file descriptor for reading the plain file at `path`.

    Raises NotPlain for anything but a plain file, OSError where it cannot be opened.
    """
    if not stat.S_ISREG(path.lstat().st_mode):
        raise NotPlain(path.name)
    flags = os.O_RDONLY
    for name in ("O_NOFOLLOW", "O_NONBLOCK", "O_CLOEXEC", "O_BINARY", "O_NOCTTY"):
        flags |= getattr(os, name, 0)
    try:
        file = os.open(path, flags)
    except OSError as error:
        if error.errno == errno.ELOOP:
            raise NotPlain(path.name) from error
        raise
    try:
        if not stat.S_ISREG(os.fstat(file).st_mode):
            raise NotPlain(path.name)
        yield file
    finally:
        os.close(file)


def small(path: Path, most: int) -> bytes | None:
    """The whole file at `path`, or None where it is over `most` bytes. Raises NotPlain and OSError."""
    with opened(path) as file:
        forget(file)
        data = bytearray()
        while len(data) <= most:
            chunk = os.read(file, min(CHUNK, most + 1 - len(data)))
            if not chunk:
                return bytes(data)
            data += chunk
    return None


def digest(path: Path, size: int | None = None, seen: Callable[[int], None] = lambda count: None) -> str | None:
    """SHA-256 of the plain file at `path`, read from the medium and not from memory where the system allows.

    `seen(count)` is told how many bytes were read, in this thread. With `size`, a file of another size is not read:
    the answer is None.

    Raises NotPlain and OSError.
    """
    with opened(path) as file:
        length = os.fstat(file).st_size
        if size is not None and length != size:
            return None
        forget(file)
        past_cache(file)
        done = hashlib.sha256()
        total = 0
        for chunk in _chunks(file, length):
            done.update(chunk)
            total += len(chunk)
            seen(len(chunk))
            if size is not None and total > size:
                return None
        return done.hexdigest()


def forget(file: int) -> None:
    """Ask the system to drop what it holds of this file in memory; dirty pages are first sent on their way."""
    if sys.platform == "linux":
        with suppress(OSError):
            os.posix_fadvise(file, 0, 0, os.POSIX_FADV_DONTNEED)


def past_cache(file: int) -> None:
    """Let reads of this descriptor go past the page cache, where the file system knows how."""
    if sys.platform == "linux":
        import fcntl

        with suppress(OSError):
            fcntl.fcntl(file, fcntl.F_SETFL, fcntl.fcntl(file, fcntl.F_GETFL) | os.O_DIRECT)
    elif sys.platform == "darwin":
        import fcntl

        with suppress(OSError):
            fcntl.fcntl(file, fcntl.F_NOCACHE, 1)


def _through_cache(file: int) -> None:
    if sys.platform == "linux":
        import fcntl

        fcntl.fcntl(file, fcntl.F_SETFL, fcntl.fcntl(file, fcntl.F_GETFL) & ~os.O_DIRECT)


def _fill(file: int, buffer: mmap.mmap) -> int:
    """Read once into a page-aligned buffer; where the file system refuses to read past the cache, through it."""
    if not hasattr(os, "readv"):
        chunk = os.read(file, len(buffer))
        buffer[: len(chunk)] = chunk
        return len(chunk)
    try:
        return os.readv(file, [buffer])
    except OSError as error:
        if error.errno != errno.EINVAL:
            raise
        _through_cache(file)
        return os.readv(file, [buffer])


def _chunks(file: int, length: int) -> Iterator[memoryview]:
    """The file's bytes; a chunk is only good until the next is asked for."""
    if length < THREADED:
        with mmap.mmap(-1, CHUNK) as buffer, memoryview(buffer) as whole:
            while got := _fill(file, buffer):
                with whole[:got] as part:
                    yield part
        return
    yield from _overlapped(file)


def _overlapped(file: int) -> Iterator[memoryview]:
    free: SimpleQueue[mmap.mmap | None] = SimpleQueue()
    full: SimpleQueue[tuple[mmap.mmap, int] | OSError] = SimpleQueue()

    def read() -> None:
        while (buffer := free.get()) is not None:
            try:
                got = _fill(file, buffer)
            except OSError as error:
                full.put(error)
                return
            full.put((buffer, got))
            if not got:
                return

    buffers = [mmap.mmap(-1, CHUNK) for _ in range(3)]
    for buffer in buffers:
        free.put(buffer)
    reader = Thread(target=read, name="read past the cache", daemon=True)
    reader.start()
    try:
        while True:
            item = full.get()
            if isinstance(item, OSError):
                raise item
            buffer, got = item
            if not got:
                return
            with memoryview(buffer) as whole, whole[:got] as part:
                yield part
            free.put(buffer)
    finally:
        free.put(None)
        reader.join()
        for buffer in buffers:
            buffer.close()


def sync_folder(folder: Path) -> None:
    """Make the folder's entries last; nothing on systems that cannot open a folder. Raises OSError."""
    if os.name != "posix":
        return
    file = os.open(folder, os.O_RDONLY | getattr(os, "O_DIRECTORY", 0))
    try:
        os.fsync(file)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):
            raise
    finally:
        os.close(file)
