"""SHA-256 of an open file, read into one buffer that is used again and again."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable

BUFFER_BYTES = 1 << 20


class Ended(Exception):
    """The work was told to end while a file was being read."""


def read_into(fd: int, buffer: bytearray) -> int:
    """Read once from where the file stands; how many bytes came. Raises OSError."""
    if hasattr(os, "readv"):
        return os.readv(fd, [buffer])
    data = os.read(fd, len(buffer))
    buffer[: len(data)] = data
    return len(data)


def sha256_of(fd: int, buffer: bytearray, ended: Callable[[], bool]) -> tuple[bytes, int]:
    """The digest of everything from where the file stands to its end, and its length. Raises OSError and Ended."""
    hashed = hashlib.sha256()
    size = 0
    window = memoryview(buffer)
    while count := read_into(fd, buffer):
        hashed.update(window[:count])
        size += count
        if ended():
            raise Ended
    return hashed.digest(), size
