"""What one compressed stream holds: gzip, xz, bzip2, Zstandard. One member, unpacked as it goes past."""

from __future__ import annotations

import bz2
import lzma
import zlib
from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

from catalogue.formats import bzip2_stream, gzip_stream, packed_stream, xz_stream, zstd_stream
from catalogue.formats.view import View
from catalogue.intake.containers.container import CHUNK, Container, Damaged, Doubted, Entry, Opened

PACKED_CHUNK = 256 << 10
XZ_MEMORY = 128 << 20
"""Memory that liblzma may take (the xz program's largest preset needs 65 MiB to unpack)."""


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
    """zlib's gzip stream with the manners of bz2's and lzma's."""

    def __init__(self) -> None:
        self._of = zlib.decompressobj(16 + zlib.MAX_WBITS)

    @property
    def eof(self) -> bool:
        return self._of.eof

    @property
    def unused_data(self) -> bytes:
        return self._of.unused_data

    def decompress(self, data: bytes, max_length: int, /) -> bytes:
        waiting = self._of.unconsumed_tail
        return self._of.decompress(waiting + data if waiting else data, max_length)


def _zstd() -> Unpacker:
    from backports.zstd import DecompressionParameter, ZstdDecompressor

    return ZstdDecompressor(options={DecompressionParameter.window_log_max: zstd_stream.MAX_WINDOW_LOG})


def _xz() -> Unpacker:
    return lzma.LZMADecompressor(lzma.FORMAT_XZ, memlimit=XZ_MEMORY)


class StreamMembers(Opened):
    """The one member of a stream, or of several end to end."""

    in_order = True
    checks = True

    def __init__(
        self,
        view: View,
        name: str,
        make: Callable[[], Unpacker],
        begins: Callable[[bytes], bool],
        *,
        checks: bool = True,
    ) -> None:
        super().__init__(view)
        self._name = name
        self._make = make
        self._begins = begins
        self._faults: list[str] = []
        self.checks = checks

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
            if not self._begins(self.view.at(at, 32)):
                self._faults.append("Bytes that are no part of it stand behind its end.")
                return
            unpacker = self._make()
            data = self.view.at(at, PACKED_CHUNK)

    @property
    def faults(self) -> Sequence[str]:
        """See Opened."""
        return self._faults


def _said(error: Exception) -> Damaged:
    text = str(error) or type(error).__name__
    if "incorrect data check" in text or "incorrect length check" in text:
        return Doubted("has bytes that are not those it was made of: its own check fails")
    if "Memory usage limit" in text or "too much memory" in text:
        return Damaged("needs more memory to unpack than is given")
    return Damaged(f"does not unpack ({text})")


def _gzip_name(view: View) -> str:
    return gzip_stream.header(view.at(0, gzip_stream.HEAD_BYTES))[0] or packed_stream.UNNAMED


def _begins_with(*magics: bytes) -> Callable[[bytes], bool]:
    return lambda head: head.startswith(magics)


def _gzip(view: View) -> Opened:
    return StreamMembers(view, _gzip_name(view), _Gzip, _begins_with(gzip_stream.MAGIC))


def _xz_open(view: View) -> Opened:
    checks = view.at(7, 1)[:1] not in (b"", b"\0")
    return StreamMembers(view, packed_stream.UNNAMED, _xz, _begins_with(xz_stream.MAGIC), checks=checks)


def _bzip2(view: View) -> Opened:
    return StreamMembers(view, packed_stream.UNNAMED, bz2.BZ2Decompressor, _begins_with(bzip2_stream.MAGIC))


def _zstd_open(view: View) -> Opened:
    at = zstd_stream.first_frame(view)
    checks = at is not None and bool(view.at(at + 4, 1)[0] & 4)
    begins = _begins_with(zstd_stream.MAGIC, *zstd_stream.SKIPPABLE)
    return StreamMembers(view, packed_stream.UNNAMED, _zstd, begins, checks=checks)


CONTAINERS = (
    Container(gzip_stream.KIND, _gzip, begins=_begins_with(gzip_stream.MAGIC)),
    Container(xz_stream.KIND, _xz_open, begins=_begins_with(xz_stream.MAGIC)),
    Container(bzip2_stream.KIND, _bzip2, begins=lambda head: head[:3] == bzip2_stream.MAGIC and head[4:7] == b"1AY"),
    Container(zstd_stream.KIND, _zstd_open, begins=_begins_with(zstd_stream.MAGIC)),
)
