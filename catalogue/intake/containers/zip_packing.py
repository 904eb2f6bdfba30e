"""Unpack one member of a zip archive, as far as its directory says and no further. Nothing is written to disk."""

from __future__ import annotations

import bz2
import lzma
import zlib
from collections.abc import Iterator
from typing import Protocol

from catalogue.formats.view import View
from catalogue.formats.zip_directory import Entry
from catalogue.intake.containers.container import CHUNK, Damaged

STORED, DEFLATED, BZIP2, LZMA = 0, 8, 12, 14
"""PKWARE APPNOTE 4.4.5."""


class _Unpacker(Protocol):
    @property
    def eof(self) -> bool: ...

    def decompress(self, data: bytes, max_length: int, /) -> bytes: ...


class _Inflate:
    """zlib's raw stream with the manners of bz2's and lzma's: what did not fit is kept for the next call."""

    def __init__(self) -> None:
        self._of = zlib.decompressobj(-zlib.MAX_WBITS)

    @property
    def eof(self) -> bool:
        return self._of.eof

    def decompress(self, data: bytes, max_length: int) -> bytes:
        waiting = self._of.unconsumed_tail
        return self._of.decompress(waiting + data if waiting else data, max_length)


def chunks(view: View, entry: Entry) -> Iterator[bytes]:
    """The member's bytes in pieces of at most CHUNK, at most `entry.size` in all.

    Raises Damaged where they end early, go on, or do not unpack; and the view's OSError.
    """
    if entry.data_offset is None:
        raise Damaged("has no header where the directory points")
    packed = _packed(view, entry.data_offset, entry.packed_size)
    left = entry.size
    try:
        for chunk in packed if entry.method == STORED else _unpacked(packed, _unpacker(entry.method)):
            left -= len(chunk)
            if left < 0:
                raise Damaged("unpacks to more bytes than its directory says")
            yield chunk
    except (zlib.error, lzma.LZMAError, EOFError, ValueError) as error:
        raise Damaged(f"does not unpack ({error})") from error
    except OSError as error:
        if error.errno is None:  # bz2 says "Invalid data stream" so
            raise Damaged(f"does not unpack ({error})") from error
        raise
    if left:
        raise Damaged("unpacks to fewer bytes than its directory says")


def _packed(view: View, offset: int, left: int) -> Iterator[bytes]:
    while left:
        data = view.at(offset, min(CHUNK, left))
        if not data:
            raise Damaged("is cut short")
        yield data
        offset += len(data)
        left -= len(data)


def _unpacker(method: int) -> _Unpacker | None:
    if method == DEFLATED:
        return _Inflate()
    if method == BZIP2:
        return bz2.BZ2Decompressor()
    if method == LZMA:
        return None
    raise Damaged(f"is packed by method {method}, which is not read")


def _unpacked(packed: Iterator[bytes], unpacker: _Unpacker | None) -> Iterator[bytes]:
    if unpacker is None:
        packed, unpacker = _lzma(packed)
    for data in packed:
        out = unpacker.decompress(data, CHUNK)
        while out:
            yield out
            if unpacker.eof:
                return
            out = unpacker.decompress(b"", CHUNK)
        if unpacker.eof:
            return


def _lzma(packed: Iterator[bytes]) -> tuple[Iterator[bytes], _Unpacker]:
    """APPNOTE 5.8.8: version (2), size of the properties (2), properties, then a raw LZMA1 stream."""
    first = next(packed, b"")
    length = int.from_bytes(first[2:4], "little")
    properties = first[4 : 4 + length]
    if length != 5 or len(properties) != 5:
        raise Damaged("does not unpack (no LZMA properties)")
    rest = properties[0]
    if rest >= 9 * 5 * 5:
        raise Damaged("does not unpack (wrong LZMA properties)")
    dictionary = int.from_bytes(properties[1:], "little")
    if dictionary > CHUNK << 6:
        raise Damaged("wants too large an LZMA dictionary")
    filters = [
        {
            "id": lzma.FILTER_LZMA1,
            "lc": rest % 9,
            "lp": rest // 9 % 5,
            "pb": rest // 45,
            "dict_size": max(4096, dictionary),
        }
    ]

    def tail() -> Iterator[bytes]:
        yield first[4 + length :]
        yield from packed

    return tail(), lzma.LZMADecompressor(lzma.FORMAT_RAW, filters=filters)
