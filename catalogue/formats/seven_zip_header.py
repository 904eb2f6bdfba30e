"""The header of a 7z archive: packed streams, blocks with their coders, files.

7zFormat.txt of the LZMA SDK (public domain), by the names that it uses: *folder* is a block of files packed together.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, field
from itertools import pairwise

from catalogue.formats.limits import MAX_BLOCKS, MAX_CODERS, MAX_DIRECTORY_BYTES, MAX_MEMBERS
from catalogue.formats.view import View

MAGIC = b"7z\xbc\xaf\x27\x1c"
START_BYTES = 32
(_END, _HEADER, _ARCHIVE, _ADDITIONAL, _STREAMS, _FILES, _PACK, _UNPACK, _SUB, _SIZE, _CRC, _FOLDER, _SIZES, _COUNTS,
 _EMPTY_STREAM, _EMPTY_FILE, _ANTI, _NAMES, _, _, _, _ATTRIBUTES, _, _ENCODED) = range(24)  # fmt: skip
AES = b"\x06\xf1\x07\x01"
_MOST_STREAMS = 32


class Bad(Exception):
    """A header that cannot be read; the text says why."""


@dataclass(frozen=True, slots=True)
class Coder:
    """One step of a block: `inputs` and `outputs` count its streams in the direction of unpacking."""

    method: bytes
    properties: bytes
    inputs: int = 1
    outputs: int = 1


@dataclass(slots=True)
class Folder:
    """A block. `bonds` lead from an input to the output it takes, `packed` lists inputs that take packed streams.

    `sizes` are those of each output, `streams` the first of its packed streams. `files` counts what it unpacks to.
    """

    coders: tuple[Coder, ...]
    bonds: dict[int, int]
    packed: tuple[int, ...]
    streams: int = 0
    sizes: tuple[int, ...] = ()
    crc32: int | None = None
    files: int = 1

    @property
    def main(self) -> int:
        """The output that no other coder takes: the files, one after the other. -1 where the bonds are a circle."""
        return next((out for out in range(len(self.sizes)) if out not in self.bonds.values()), -1)

    @property
    def size(self) -> int:
        """Bytes it unpacks to."""
        return self.sizes[self.main]

    @property
    def encrypted(self) -> bool:
        """Whether a password is needed."""
        return any(one.method == AES for one in self.coders)


@dataclass(slots=True)
class Streams:
    """Packed streams (offset and size, absolute in the view), blocks, and the files in the blocks (size, CRC)."""

    packed: list[tuple[int, int]] = field(default_factory=list)
    folders: list[Folder] = field(default_factory=list)
    parts: list[tuple[int, int | None]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Listed:
    """One file as the header lists it: `stream` says that it has bytes, in the blocks' order."""

    name: bytes
    stream: bool
    folder: bool
    anti: bool
    attributes: int
    listed_at: int


@dataclass(frozen=True, slots=True)
class Start:
    """The 32 bytes that begin an archive; where the header lies is absolute in the view."""

    version: tuple[int, int]
    header_offset: int
    header_size: int
    header_crc: int
    sound: bool


def start(view: View, at: int = 0) -> Start | None:
    """The first header; None where none stands at `at`. `sound`: its CRC is right."""
    raw = view.at(at, START_BYTES)
    if len(raw) < START_BYTES or raw[:6] != MAGIC:
        return None
    where, size = int.from_bytes(raw[12:20], "little"), int.from_bytes(raw[20:28], "little")
    sound = zlib.crc32(raw[12:]) == int.from_bytes(raw[8:12], "little")
    return Start((raw[6], raw[7]), at + START_BYTES + where, size, int.from_bytes(raw[28:32], "little"), sound)


class _Reader:
    """Numbers and bytes of a header in memory. Raises Bad at its end."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        self.at = 0

    def take(self, count: int) -> bytes:
        """The next `count` bytes."""
        if count > len(self.data) - self.at:
            raise Bad("it ends too early")
        self.at += count
        return self.data[self.at - count : self.at]

    def byte(self) -> int:
        """The next byte."""
        return self.take(1)[0]

    def number(self) -> int:
        """NUMBER: the first byte's leading ones count the bytes that follow, its rest are the highest bits."""
        first = self.byte()
        extra = 8 - (first ^ 0xFF).bit_length()
        low = int.from_bytes(self.take(extra), "little")
        return low if extra >= 7 else low | (first & ((1 << (7 - extra)) - 1)) << (8 * extra)

    def count(self, most: int) -> int:
        """A number that counts things, at most `most`."""
        number = self.number()
        if number > most:
            raise Bad(f"it counts {number} where {most} are read")
        return number

    def bits(self, count: int) -> list[bool]:
        """A vector of bits, the highest first."""
        raw = self.take((count + 7) // 8)
        return [bool(raw[i // 8] & (0x80 >> i % 8)) for i in range(count)]

    def defined(self, count: int) -> list[bool]:
        """A vector of bits that may be left out where all are set."""
        return [True] * count if self.byte() else self.bits(count)

    def digests(self, count: int) -> list[int | None]:
        """CRCs of those that have one."""
        return [int.from_bytes(self.take(4), "little") if there else None for there in self.defined(count)]


def streams(data: bytes, base: int) -> Streams:
    """The StreamsInfo of an encoded header; packed streams count from `base`. Raises Bad."""
    reader = _Reader(data)
    if reader.byte() != _ENCODED:
        raise Bad("it is no packed header")
    return _streams(reader, base)


def is_packed(data: bytes) -> bool:
    """Whether a header is itself packed."""
    return data[:1] == bytes((_ENCODED,))


def listing(data: bytes, base: int) -> tuple[Streams, list[Listed]]:
    """Streams and files of a header. Raises Bad."""
    reader = _Reader(data)
    if reader.byte() != _HEADER:
        raise Bad("it begins with neither of the two marks")
    found, files = Streams(), []
    kind = reader.byte()
    if kind == _ARCHIVE:
        while reader.number():
            reader.take(reader.count(MAX_DIRECTORY_BYTES))
        kind = reader.byte()
    if kind == _ADDITIONAL:
        raise Bad("it keeps parts of itself elsewhere")
    if kind == _STREAMS:
        found = _streams(reader, base)
        kind = reader.byte()
    if kind == _FILES:
        files = _files(reader)
        kind = reader.byte()
    if kind != _END:
        raise Bad("it does not end where it should")
    if sum(one.stream for one in files) != len(found.parts):
        raise Bad("it lists more or fewer files than its blocks hold")
    return found, files


def _streams(reader: _Reader, base: int) -> Streams:
    found = Streams()
    kind = reader.byte()
    if kind == _PACK:
        _pack(reader, found, base)
        kind = reader.byte()
    if kind == _UNPACK:
        _unpack(reader, found)
        kind = reader.byte()
    digests: list[int | None] = []
    sizes = []
    if kind == _SUB:
        kind = reader.byte()
        if kind == _COUNTS:
            total = 0
            for one in found.folders:
                one.files = reader.count(MAX_MEMBERS)
                total += one.files
                if total > MAX_MEMBERS:
                    raise Bad(f"it counts more than {MAX_MEMBERS} files")
            kind = reader.byte()
        sizes = _part_sizes(reader, found.folders, kind == _SIZE)
        if kind == _SIZE:
            kind = reader.byte()
        digests, kind = _part_digests(reader, found.folders, kind)
        while kind != _END:
            reader.take(reader.count(MAX_DIRECTORY_BYTES))
            kind = reader.byte()
        kind = reader.byte()
    else:
        sizes = [one.size for one in found.folders]
        digests = [one.crc32 for one in found.folders]
    if kind != _END:
        raise Bad("its list of streams does not end where it should")
    found.parts = list(zip(sizes, digests, strict=True))
    return found


def _pack(reader: _Reader, found: Streams, base: int) -> None:
    offset = base + reader.number()
    count = reader.count(MAX_BLOCKS * 4)
    kind = reader.byte()
    if kind == _SIZE:
        for _ in range(count):
            size = reader.number()
            found.packed.append((offset, size))
            offset += size
        kind = reader.byte()
    if kind == _CRC:
        reader.digests(count)
        kind = reader.byte()
    if kind != _END:
        raise Bad("its list of packed streams does not end where it should")


def _unpack(reader: _Reader, found: Streams) -> None:
    if reader.byte() != _FOLDER:
        raise Bad("it has no list of blocks where one should stand")
    count = reader.count(MAX_BLOCKS)
    if reader.byte():
        raise Bad("it keeps parts of itself elsewhere")
    stream = 0
    for _ in range(count):
        one = _folder(reader)
        one.streams = stream
        stream += len(one.packed)
        found.folders.append(one)
    if stream > len(found.packed):
        raise Bad("its blocks use more packed streams than it lists")
    if reader.byte() != _SIZES:
        raise Bad("it does not give the sizes of its blocks")
    for one in found.folders:
        one.sizes = tuple(reader.number() for _ in range(sum(coder.outputs for coder in one.coders)))
        if one.main < 0:
            raise Bad("the coders of a block go round in a circle")
    kind = reader.byte()
    if kind == _CRC:
        for one, crc in zip(found.folders, reader.digests(count), strict=True):
            one.crc32 = crc
        kind = reader.byte()
    if kind != _END:
        raise Bad("its list of blocks does not end where it should")


def _folder(reader: _Reader) -> Folder:
    coders = []
    for _ in range(reader.count(MAX_CODERS)):
        flags = reader.byte()
        method = reader.take(flags & 15)
        inputs = outputs = 1
        if flags & 0x10:
            inputs, outputs = reader.count(_MOST_STREAMS), reader.count(_MOST_STREAMS)
        properties = reader.take(reader.count(MAX_DIRECTORY_BYTES)) if flags & 0x20 else b""
        if flags & 0xC0:
            raise Bad("a block has a coder of a form that is not published")
        coders.append(Coder(method, properties, inputs, outputs))
    takes, gives = sum(one.inputs for one in coders), sum(one.outputs for one in coders)
    if not coders or not gives or takes > _MOST_STREAMS or takes < gives - 1:
        raise Bad("a block's coders do not fit together")
    bonds: dict[int, int] = {}
    for _ in range(gives - 1):
        to, of = reader.count(takes - 1), reader.count(gives - 1)
        if to in bonds or of in bonds.values():
            raise Bad("a block's coders do not fit together")
        bonds[to] = of
    free = takes - len(bonds)
    if free == 1:
        packed = tuple(one for one in range(takes) if one not in bonds)
    else:
        packed = tuple(reader.count(takes - 1) for _ in range(free))
    if len(set(packed) | set(bonds)) != takes:
        raise Bad("a block's coders do not fit together")
    return Folder(tuple(coders), bonds, packed)


def _part_sizes(reader: _Reader, folders: list[Folder], listed: bool) -> list[int]:
    sizes = []
    for one in folders:
        left = one.size
        if one.files > 1 and not listed:
            raise Bad("it does not give the sizes of its files")
        for _ in range(one.files - 1):
            size = reader.number()
            sizes.append(size)
            left -= size
        if left < 0:
            raise Bad("a block's files are larger than the block")
        if one.files:
            sizes.append(left)
    return sizes


def _part_digests(reader: _Reader, folders: list[Folder], kind: int) -> tuple[list[int | None], int]:
    """The CRC of each file: a block of one file may have given it already."""
    unknown = sum(one.files for one in folders if one.files != 1 or one.crc32 is None)
    told: list[int | None] = [None] * unknown
    if kind == _CRC:
        told = reader.digests(unknown)
        kind = reader.byte()
    digests: list[int | None] = []
    at = 0
    for one in folders:
        if one.files == 1 and one.crc32 is not None:
            digests.append(one.crc32)
        else:
            digests += told[at : at + one.files]
            at += one.files
    return digests, kind


def _files(reader: _Reader) -> list[Listed]:
    count = reader.count(MAX_MEMBERS)
    empty, empty_file, anti = [False] * count, [], []
    names: list[bytes] = []
    places = [reader.at] * count
    attributes = [0] * count
    while kind := reader.number():
        inner = _Reader(reader.take(reader.count(MAX_DIRECTORY_BYTES)))
        base = reader.at - len(inner.data)
        if kind == _EMPTY_STREAM:
            empty = inner.bits(count)
        elif kind == _EMPTY_FILE:
            empty_file = inner.bits(sum(empty))
        elif kind == _ANTI:
            anti = inner.bits(sum(empty))
        elif kind == _NAMES:
            names, places = _names(inner, base, count)
        elif kind == _ATTRIBUTES:
            there = inner.defined(count)
            if inner.byte():
                raise Bad("it keeps parts of itself elsewhere")
            attributes = [int.from_bytes(inner.take(4), "little") if one else 0 for one in there]
    if len(names) < count:
        raise Bad("it does not name its files")
    files, number = [], 0
    for index in range(count):
        folder = gone = False
        if empty[index]:
            folder = not (number < len(empty_file) and empty_file[number])
            gone = number < len(anti) and anti[number]
            number += 1
        files.append(Listed(names[index], not empty[index], folder, gone, attributes[index], places[index]))
    return files


def _names(inner: _Reader, base: int, count: int) -> tuple[list[bytes], list[int]]:
    if inner.byte():
        raise Bad("it keeps parts of itself elsewhere")
    raw = inner.data[1:]
    units = raw[: len(raw) // 2 * 2]
    ends = [-2]
    at = units.find(b"\0\0")
    while at >= 0 and len(ends) <= count:
        if at % 2 == 0:
            ends.append(at)
            at = units.find(b"\0\0", at + 2)
        else:
            at = units.find(b"\0\0", at + 1)
    if len(ends) <= count:
        raise Bad("it does not name all of its files")
    names = [units[one + 2 : stop] for one, stop in pairwise(ends)]
    return names, [base + 1 + one + 2 for one in ends[:-1]]
