"""A window on bytes: what exists is given, what does not is simply missing."""

from __future__ import annotations

import os
from typing import Protocol


class View(Protocol):
    """Random access to one content of `size` bytes. `at` may raise OSError when the world fails, and nothing else."""

    @property
    def size(self) -> int:
        """How many bytes there are."""

    def at(self, offset: int, length: int) -> bytes:
        """The bytes that exist of `length` from `offset`; b"" for a negative or too large offset."""


class BytesView:
    """A view on bytes in memory."""

    __slots__ = ("_data", "size")

    def __init__(self, data: bytes | bytearray | memoryview) -> None:
        self._data = data if isinstance(data, bytes) else memoryview(data)
        self.size = len(self._data)

    def at(self, offset: int, length: int) -> bytes:
        """See View.at."""
        if offset < 0 or length <= 0:
            return b""
        part = self._data[offset : offset + length]
        return part if isinstance(part, bytes) else bytes(part)


class FileView:
    """A view on an open file, read where asked (never mapped: a file cut short underfoot would kill the process)."""

    __slots__ = ("_fd", "size")

    def __init__(self, fd: int, size: int) -> None:
        self._fd = fd
        self.size = size

    def at(self, offset: int, length: int) -> bytes:
        """See View.at. Raises OSError."""
        if offset < 0 or length <= 0 or offset >= self.size:
            return b""
        length = min(length, self.size - offset)
        if hasattr(os, "pread"):
            return os.pread(self._fd, length, offset)
        os.lseek(self._fd, offset, os.SEEK_SET)
        return os.read(self._fd, length)


class PartView:
    """A stretch of another view, with its own offsets from 0."""

    __slots__ = ("_start", "_under", "size")

    def __init__(self, under: View, start: int, length: int) -> None:
        self._under = under
        self._start = start
        self.size = max(0, min(length, under.size - start))

    def at(self, offset: int, length: int) -> bytes:
        """See View.at."""
        if offset < 0 or length <= 0 or offset >= self.size:
            return b""
        return self._under.at(self._start + offset, min(length, self.size - offset))
