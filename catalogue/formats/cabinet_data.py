"""The bytes of a cabinet's files: data blocks with their checksums, stored or packed as MSZIP.

[MS-CAB] 2.4 CFDATA and 3.1 (checksum); [MS-MCI] (MSZIP: deflated blocks of at most 32 KiB that share their window).
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator

from catalogue.formats.archive_items import Differs, SkipBudget, Unreadable
from catalogue.formats.cabinet import MSZIP, Cabinet, Folder
from catalogue.formats.view import View

BLOCK = 32_768
"""Unpacked bytes of one block, at most."""
_HEADER_BYTES = 8
_MOST_PACKED = BLOCK + 6_144
_MARK = b"CK"


class Unpacker:
    """Gives files of one cabinet; those of a folder asked for in order are unpacked in one pass."""

    def __init__(self, view: View, found: Cabinet) -> None:
        self._view = view
        self._found = found
        self._budget = SkipBudget(view.size)
        self._folder = -1
        self._blocks: Iterator[bytes] = iter(())
        self._held = b""
        self._at = 0
        self._broken: dict[int, tuple[int, Unreadable]] = {}

    def chunks(self, index: int) -> Iterator[bytes]:
        """The bytes of file `index`, at most its size. Raises Unreadable, and the view's OSError."""
        item, (folder, start) = self._found.items[index], self._found.places[index]
        if not item.readable:
            raise Unreadable(item.why)
        if folder in self._broken and start + item.size > self._broken[folder][0]:
            raise self._broken[folder][1]
        if folder != self._folder or start < self._at:
            self._folder, self._held, self._at = folder, b"", 0
            self._blocks = blocks(self._view, self._found.folders[folder], self._found.reserve)
        left = item.size
        while left:
            skip = start - self._at
            part = self._held[skip : skip + left]
            if part:
                yield part
                start += len(part)
                left -= len(part)
                continue
            try:
                block = next(self._blocks, None)
                if block is None:
                    raise Unreadable("lies behind the end of its folder")
            except Unreadable as error:
                self._folder = -1
                self._broken[folder] = (self._at + len(self._held), error)
                raise
            self._at += len(self._held)
            self._held = block
            if self._at + len(block) <= start:
                self._budget.spend(len(block))


def blocks(view: View, folder: Folder, reserve: int) -> Iterator[bytes]:
    """The unpacked blocks of a folder. Raises Unreadable, and the view's OSError."""
    at, window = folder.offset, b""
    for _ in range(folder.blocks):
        head = view.at(at, _HEADER_BYTES + reserve)
        packed, size = int.from_bytes(head[4:6], "little"), int.from_bytes(head[6:8], "little")
        if len(head) < _HEADER_BYTES + reserve or packed > _MOST_PACKED or size > BLOCK:
            raise Unreadable("is packed in blocks that are not whole")
        data = view.at(at + len(head), packed)
        if len(data) < packed:
            raise Unreadable("is cut short")
        stated = int.from_bytes(head[:4], "little")
        if stated and checksum(head[4:]) ^ checksum(data) != stated:
            raise Differs("is packed in a block whose checksum is wrong")
        if not size:
            raise Unreadable("goes on in the next cabinet, which is needed to unpack it")
        if folder.method & 15 == MSZIP:
            data = _inflated(data, window, size)
        elif packed != size:
            raise Unreadable("is stored in a block whose two sizes differ")
        window = data if len(data) == BLOCK else (window + data)[-BLOCK:]
        yield data
        at += len(head) + packed


def checksum(data: bytes) -> int:
    """The checksum of [MS-CAB] 3.1 with a seed of 0: 32-bit words XORed, the last odd bytes turned round."""
    whole = len(data) & ~3
    total = int.from_bytes(data[whole:], "big")
    words = int.from_bytes(data[:whole], "little")
    count = whole // 4
    while count > 1:
        half = (count + 1) // 2
        words = (words >> (32 * half)) ^ (words & ((1 << (32 * half)) - 1))
        count = half
    return total ^ words


def _inflated(data: bytes, window: bytes, size: int) -> bytes:
    if data[:2] != _MARK:
        raise Unreadable("is packed in a block without the mark of MSZIP")
    of = zlib.decompressobj(-zlib.MAX_WBITS, zdict=window) if window else zlib.decompressobj(-zlib.MAX_WBITS)
    try:
        out = of.decompress(data[2:], size + 1)
    except zlib.error as error:
        raise Unreadable(f"does not unpack ({error})") from error
    if len(out) != size or not of.eof:
        raise Unreadable("unpacks to another size than its block says")
    return out
