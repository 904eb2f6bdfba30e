"""What one compressed stream holds: gzip, xz, bzip2, Zstandard. One member, unpacked as it goes past."""

from __future__ import annotations

import bz2
import lzma
import struct
import zlib
from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

from catalogue.formats import bzip2_stream, gzip_stream, packed_stream, xz_stream, zstd_stream
from catalogue.formats.view import View
from catalogue.intake.containers.container import CHUNK, Container, Damaged, Doubted, Entry, Opened

PACKED_CHUNK = 256 << 10
XZ_MEMORY = 128 << 20
"""Memory that liblzma may take (the xz program's largest preset needs 65 MiB to unpack)."""


Begins = Callable[[bytes], bool]
"""Asked of the first bytes of a stream."""


class Unpacker(Protocol):
    """One stream being unpacked: what did not fit into `max_length` is kept for the next call."""

    @property
    def eof(self) -> bool:
        """Whether the stream has ended."""

    @property
    def unused_data(self) -> bytes:
        """What stands behind its end."""

    def decompress(self, data: bytes, max_length: int, /) -> bytes:
        """The next bytes, at most so many."""


class _Gzip:
    """One member of a gzip stream (RFC 1952, 2.3), with the manners of bz2's and lzma's.

    The check is made here, after the last byte was given out: zlib's own would keep the last bytes back where it fails.
    """

    def __init__(self) -> None:
        self._head = b""
        self._of: zlib._Decompress | None = None
        self._tail = b""
        self._crc = 0
        self._size = 0
        self.eof = False
        self.unused_data = b""

    def decompress(self, data: bytes, max_length: int, /) -> bytes:
        """See Unpacker. Raises Doubted where the check fails."""
        if self._of is None:
            self._head += data
            length = gzip_stream.header_length(self._head)
            if length is None:
                if len(self._head) > MAX_GZIP_HEADER:
                    raise Damaged(f"has a header of more than {MAX_GZIP_HEADER} bytes")
                return b""
            self._of = zlib.decompressobj(-zlib.MAX_WBITS)
            data, self._head = self._head[length:], b""
        out = b""
        if not self._of.eof:
            waiting = self._of.unconsumed_tail
            out = self._of.decompress(waiting + data if waiting else data, max_length)
            self._crc = zlib.crc32(out, self._crc)
            self._size += len(out)
            data = self._of.unused_data if self._of.eof else b""
        if self._of.eof:
            self._tail += data
            if not out:
                self._check()
        return out

    def _check(self) -> None:
        if len(self._tail) < _TRAILER:
            return
        stated, self.unused_data = self._tail[:_TRAILER], self._tail[_TRAILER:]
        self.eof = True
        if stated != struct.pack("<II", self._crc, self._size & 0xFFFF_FFFF):
            raise Doubted("has bytes that are not those it was made of: its own check fails")


_TRAILER = 8
MAX_GZIP_HEADER = 256 << 10
"""Bytes of a gzip member's header (extra fields have up to 64 KiB, name and comment no bound)."""


def _zstd() -> Unpacker:
    from backports.zstd import DecompressionParameter, ZstdDecompressor

    return ZstdDecompressor(options={DecompressionParameter.window_log_max: zstd_stream.MAX_WINDOW_LOG})


def _xz() -> Unpacker:
    return lzma.LZMADecompressor(lzma.FORMAT_XZ, memlimit=XZ_MEMORY)


class StreamMembers(Opened):
    """The one member of a stream, or of several end to end."""

    in_order = True

    def __init__(
        self, view: View, name: str, make: Callable[[], Unpacker], begins: Begins, checked: Begins = lambda head: True
    ) -> None:
        super().__init__(view)
        self._name = name
        self._make = make
        self._begins = begins
        self._checked = checked
        self._faults: list[str] = []
        self.checks = True

    def entries(self) -> Iterator[Entry]:
        """See Opened."""
        yield Entry(0, self._name, None)

    def chunks(self, entry: Entry) -> Iterator[bytes]:
        """See Opened."""
        try:
            yield from self._unpacked()
        except (zlib.error, lzma.LZMAError, EOFError, ValueError, MemoryError) as error:
            raise _said(error) from error
        except OSError as error:
            if error.errno is None:  # bz2 says "Invalid data stream" so
                raise _said(error) from error
            raise
        except Exception as error:
            if type(error).__name__ != "ZstdError":
                raise
            raise _said(error) from error

    def _unpacked(self) -> Iterator[bytes]:
        at = 0
        self.checks = self._checked(self.view.at(0, 32))
        unpacker = self._make()
        data = self.view.at(at, PACKED_CHUNK)
        while True:
            if not data:
                raise Damaged("is cut short")
            at += len(data)
            out = unpacker.decompress(data, CHUNK)
            while out:
                yield out
                out = b"" if unpacker.eof else unpacker.decompress(b"", CHUNK)
            if not unpacker.eof:
                data = self.view.at(at, PACKED_CHUNK)
                continue
            at -= len(unpacker.unused_data)
            head = self.view.at(at, 32)
            while head and head == bytes(len(head)) and at < self.view.size:
                at += len(head)
                head = self.view.at(at, PACKED_CHUNK)
            stripped = head.lstrip(b"\0") if head[:1] == b"\0" else head
            at += len(head) - len(stripped)
            if not stripped:
                return
            head = self.view.at(at, 32)
            if not self._begins(head):
                self._faults.append("Bytes that are no part of it stand behind its end.")
                return
            self.checks = self.checks and self._checked(head)
            unpacker = self._make()
            data = self.view.at(at, PACKED_CHUNK)

    @property
    def faults(self) -> Sequence[str]:
        """See Opened."""
        return self._faults


def _said(error: Exception) -> Damaged:
    text = str(error) or type(error).__name__
    if "Memory usage limit" in text or "too much memory" in text:
        return Damaged("needs more memory to unpack than is given")
    return Damaged(f"does not unpack ({text})")


def _gzip_name(view: View) -> str:
    return gzip_stream.header(view.at(0, gzip_stream.HEAD_BYTES))[0] or packed_stream.UNNAMED


def _begins_with(*magics: bytes) -> Begins:
    return lambda head: head.startswith(magics)


def _gzip(view: View) -> Opened:
    return StreamMembers(view, _gzip_name(view), _Gzip, _begins_with(gzip_stream.MAGIC))


def _xz_checked(head: bytes) -> bool:
    """Whether a stream that begins so keeps a check (The .xz File Format 1.2, 2.1.1.2)."""
    return head[7:8] not in (b"", b"\0")


def _zstd_checked(head: bytes) -> bool:
    """Whether a frame that begins so keeps a checksum (RFC 8878, 3.1.1.1.1); a skippable one gives no byte out."""
    return head[:4] != zstd_stream.MAGIC or bool(head[4:5] and head[4] & 4)


def _xz_open(view: View) -> Opened:
    return StreamMembers(view, packed_stream.UNNAMED, _xz, _begins_with(xz_stream.MAGIC), _xz_checked)


def _bzip2(view: View) -> Opened:
    return StreamMembers(view, packed_stream.UNNAMED, bz2.BZ2Decompressor, _begins_with(bzip2_stream.MAGIC))


def _zstd_open(view: View) -> Opened:
    begins = _begins_with(zstd_stream.MAGIC, *zstd_stream.SKIPPABLE)
    return StreamMembers(view, packed_stream.UNNAMED, _zstd, begins, _zstd_checked)


CONTAINERS = (
    Container(gzip_stream.KIND, _gzip, begins=_begins_with(gzip_stream.MAGIC)),
    Container(xz_stream.KIND, _xz_open, begins=_begins_with(xz_stream.MAGIC)),
    Container(bzip2_stream.KIND, _bzip2, begins=lambda head: head[:3] == bzip2_stream.MAGIC and head[4:7] == b"1AY"),
    Container(zstd_stream.KIND, _zstd_open, begins=_begins_with(zstd_stream.MAGIC)),
)
