"""Compound files ([MS-CFB]): sectors, allocation tables, and a tree of storages and streams. Read where asked."""

from __future__ import annotations

from array import array
from collections.abc import Iterator
from dataclasses import dataclass

from catalogue.formats.archive_items import CHUNK, Unreadable
from catalogue.formats.limits import MAX_FAT_SECTORS, MAX_MEMBERS
from catalogue.formats.view import View

MAGIC = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
HEADER_BYTES = 512
_ENTRY_BYTES = 128
_LAST_SECTOR, _END = 0xFFFF_FFFA, 0xFFFF_FFFE
"""[MS-CFB] 2.1: the largest number of a sector, the mark of a chain's end."""
_IN_HEADER = 109
STORAGE, STREAM, ROOT = 1, 2, 5
_HELD_TABLES = 64


@dataclass(frozen=True, slots=True)
class Stream:
    """One stream: the names on its way from the root, its first sector and size, and where its entry stands."""

    path: tuple[str, ...]
    first: int
    size: int
    listed_at: int


class CompoundFile:
    """An open compound file. `fault` says in a sentence what is wrong with the whole, "" for nothing.

    Raises nothing but the view's OSError; `chunks` raises Unreadable too.
    """

    def __init__(self, view: View) -> None:
        self.view = view
        self.fault = ""
        head = view.at(0, HEADER_BYTES)
        self.major = int.from_bytes(head[26:28], "little")
        shift = int.from_bytes(head[30:32], "little")
        self.clsid = bytes(16)
        self.streams: list[Stream] = []
        self._tables: dict[int, memoryview] = {}
        self._fat = array("Q")
        self._mini = array("Q")
        self._mini_places = array("Q")
        if len(head) < HEADER_BYTES or shift not in (9, 12) or head[28:30] != b"\xfe\xff" or head[32:34] != b"\6\0":
            self.fault = "Its header is damaged."
            self.sector = 512
            return
        self.sector = 1 << shift
        self._count = max(0, view.size // self.sector - 1) + (view.size % self.sector > 0)
        self._cutoff = int.from_bytes(head[56:60], "little")
        try:
            self._load_fat(head)
            self._load_directory(int.from_bytes(head[48:52], "little"), int.from_bytes(head[60:64], "little"))
        except Unreadable as error:
            self.fault = f"Its tables cannot be read: it {error}."

    def chunks(self, stream: Stream) -> Iterator[bytes]:
        """The bytes of a stream. Raises Unreadable, and the view's OSError."""
        if stream.size < self._cutoff:
            return self._from_mini(stream)
        return self._from_sectors(stream.first, stream.size)

    def data(self, stream: Stream, most: int) -> bytes:
        """The bytes of a stream that is at most `most` long. Raises Unreadable, and the view's OSError."""
        if stream.size > most:
            raise Unreadable(f"has a part of {stream.size} bytes, too large to be read")
        return b"".join(self.chunks(stream))

    def _load_fat(self, head: bytes) -> None:
        count = int.from_bytes(head[44:48], "little")
        if count > MAX_FAT_SECTORS:
            raise Unreadable(f"has {count} sectors of its allocation table, too many to be read")
        numbers = [int.from_bytes(head[at : at + 4], "little") for at in range(76, HEADER_BYTES, 4)]
        next_ = int.from_bytes(head[68:72], "little")
        while len(numbers) < count and next_ <= _LAST_SECTOR:
            raw = self.view.at((next_ + 1) * self.sector, self.sector)
            if len(raw) < self.sector:
                raise Unreadable("is cut short")
            some = array("I", raw)
            numbers += some[:-1]
            next_ = some[-1]
        self._fat.extend(numbers[:count])
        if len(self._fat) < count:
            raise Unreadable("lists fewer sectors of its allocation table than it counts")

    def _next(self, sector: int) -> int:
        """What the allocation table says behind `sector`."""
        per = self.sector // 4
        which, index = divmod(sector, per)
        table = self._tables.get(which)
        if table is None:
            if which >= len(self._fat):
                raise Unreadable("has a sector that its allocation table does not hold")
            raw = self.view.at((self._fat[which] + 1) * self.sector, self.sector)
            if len(raw) < self.sector:
                raise Unreadable("is cut short")
            if len(self._tables) >= _HELD_TABLES:
                self._tables.pop(next(iter(self._tables)))
            table = self._tables[which] = memoryview(raw).cast("I")
        return int(table[index])

    def _chain(self, first: int, most: int) -> Iterator[int]:
        """The sectors of a chain, at most `most`; a circle is found by the marks of Brent's method."""
        sector, mark, steps, power = first, -1, 0, 1
        for _ in range(most):
            if sector == _END:
                return
            if sector >= self._count:
                raise Unreadable("has a sector behind its end")
            if sector == mark:
                raise Unreadable("has sectors that go round in a circle")
            yield sector
            if steps == power:
                mark, steps, power = sector, 0, power * 2
            steps += 1
            sector = self._next(sector)

    def _from_sectors(self, first: int, size: int) -> Iterator[bytes]:
        """Runs of sectors that stand side by side are read at once."""
        left, start, count = size, -1, 0
        most = CHUNK // self.sector
        for sector in self._chain(first, -(-size // self.sector)):
            if sector == start + count and count < most:
                count += 1
                continue
            if count:
                yield (part := self._run(start, count, left))
                left -= len(part)
            start, count = sector, 1
        if count:
            yield (part := self._run(start, count, left))
            left -= len(part)
        if left:
            raise Unreadable("has fewer sectors than its size needs")

    def _run(self, start: int, count: int, left: int) -> bytes:
        want = min(count * self.sector, left)
        part = self.view.at((start + 1) * self.sector, want)
        if len(part) < want:
            raise Unreadable("is cut short")
        return part

    def _from_mini(self, stream: Stream) -> Iterator[bytes]:
        left, sector, per = stream.size, stream.first, self.sector // 64
        out = bytearray()
        while left:
            if sector >= len(self._mini_places) * per or sector >= len(self._mini) * (self.sector // 4):
                raise Unreadable("has a sector behind its end")
            place = self._mini_places[sector // per]
            part = self.view.at((place + 1) * self.sector + sector % per * 64, min(64, left))
            if not part:
                raise Unreadable("is cut short")
            out += part
            left -= len(part)
            raw = self.view.at(
                (self._mini[sector // (self.sector // 4)] + 1) * self.sector + sector * 4 % self.sector, 4
            )
            sector = int.from_bytes(raw, "little")
        yield bytes(out)

    def _load_directory(self, first: int, mini: int) -> None:
        per = self.sector // _ENTRY_BYTES
        raw = bytearray()
        places = []
        for sector in self._chain(first, MAX_MEMBERS // per + 1):
            raw += self.view.at((sector + 1) * self.sector, self.sector)
            places.append((sector + 1) * self.sector)
        total = len(raw) // _ENTRY_BYTES
        if not total or raw[66] != ROOT:
            raise Unreadable("has no root among its entries")

        def entry(number: int) -> bytes:
            return bytes(raw[number * _ENTRY_BYTES : (number + 1) * _ENTRY_BYTES])

        root = entry(0)
        self.clsid = root[80:96]
        self._mini.extend(self._chain(mini, self._count) if mini <= _LAST_SECTOR else ())
        size = self._size(root)
        if size and self._start(root) <= _LAST_SECTOR:
            self._mini_places.extend(self._chain(self._start(root), -(-size // self.sector)))
        waiting: list[tuple[int, tuple[str, ...]]] = [(int.from_bytes(root[76:80], "little"), ())]
        seen = {0}
        while waiting:
            number, above = waiting.pop()
            if number >= total or number in seen:
                if number <= _LAST_SECTOR:
                    self.fault = "Its directory is damaged: an entry is named twice or is not there."
                continue
            seen.add(number)
            raw_entry = entry(number)
            length = int.from_bytes(raw_entry[64:66], "little")
            name = raw_entry[: max(0, min(length, 64) - 2)].decode("utf-16-le", "replace")
            left, right, child = (int.from_bytes(raw_entry[at : at + 4], "little") for at in (68, 72, 76))
            waiting += ((left, above), (right, above))
            if raw_entry[66] == STORAGE and len(above) < 16:
                waiting.append((child, (*above, name)))
            elif raw_entry[66] == STREAM:
                at = places[number // per] + number % per * _ENTRY_BYTES
                self.streams.append(Stream((*above, name), self._start(raw_entry), self._size(raw_entry), at))
        self.streams.sort(key=lambda one: one.listed_at)

    def _start(self, raw: bytes) -> int:
        return int.from_bytes(raw[116:120], "little")

    def _size(self, raw: bytes) -> int:
        return int.from_bytes(raw[120 : 124 if self.major == 3 else 128], "little")
