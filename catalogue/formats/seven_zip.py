"""7z archives, alone or behind a program: what they list, and what is wrong with them.

7zFormat.txt of the LZMA SDK (public domain). The header may itself be packed; it is unpacked in memory, bounded.
"""

from __future__ import annotations

import stat
import zlib
from collections.abc import Iterator
from dataclasses import dataclass

from catalogue.formats import archive_items
from catalogue.formats.archive_items import DEVICE, LINK, MAX_NAME, Differs, Item, SkipBudget, Unreadable, together
from catalogue.formats.limits import MAX_DIRECTORY_BYTES
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.seven_zip_coders import name_of, unpacked, why_not
from catalogue.formats.seven_zip_header import (
    MAGIC,
    START_BYTES,
    Bad,
    Listed,
    Start,
    Streams,
    is_packed,
    listing,
    start,
    streams,
)
from catalogue.formats.view import View
from catalogue.formats.zip_directory import unsafe_name
from catalogue.shapes.reading import Fault, Field, Reading, Span

SOURCE = "7zFormat.txt, SignatureHeader"
KIND = "archive/7z"
_MOST_HEADERS = 4
"""Packed headers in packed headers."""
_BEFORE = 256 << 10
"""How far behind a program an archive may begin: its settings stand before it."""
_UNIX, _WINDOWS_FOLDER, _WINDOWS_LINK = 0x8000, 0x10, 0x400


@dataclass(frozen=True, slots=True)
class Archive:
    """What an archive lists. `parts[i]` is item i's number among the blocks' files, None where it has no bytes.

    `faults` are sentences about the whole; `locked` that its list of files is encrypted. `end` lies behind the header.
    """

    first: Start
    items: tuple[Item, ...]
    parts: tuple[int | None, ...]
    streams: Streams
    end: int
    locked: bool = False
    faults: tuple[str, ...] = ()


def looks_like(view: View) -> Looks:
    """SURE for the first six bytes."""
    return Looks.SURE if view.at(0, len(MAGIC)) == MAGIC else Looks.NO


def archive(view: View, at: int = 0) -> Archive | None:
    """What the archive at `at` lists; None where none begins there. Raises nothing but the view's OSError."""
    first = start(view, at)
    if first is None:
        return None
    end = min(first.header_offset + first.header_size, view.size)

    def broken(text: str, locked: bool = False) -> Archive:
        return Archive(first, (), (), Streams(), end, locked, (text,))

    if not first.sound:
        return broken("Its first header is damaged: its CRC is wrong.")
    if not first.header_size:
        return Archive(first, (), (), Streams(), end)
    if first.header_offset + first.header_size > view.size:
        return broken("Its list of files lies behind its end: it is cut short, or the first part of a split archive.")
    if first.header_size > MAX_DIRECTORY_BYTES:
        return broken("Its list of files is too large to be read.")
    data, crc = view.at(first.header_offset, first.header_size), first.header_crc
    packed = False
    try:
        for _ in range(_MOST_HEADERS):
            if zlib.crc32(data) != crc:
                return broken("Its list of files is damaged: its CRC is wrong.")
            if not is_packed(data):
                break
            packed = True
            found = streams(data, at + START_BYTES)
            if len(found.folders) != 1:
                return broken("Its list of files is packed in a way that is not read.")
            folder = found.folders[0]
            if folder.encrypted:
                return broken("Its list of files is encrypted.", True)
            if folder.size > MAX_DIRECTORY_BYTES:
                return broken("Its list of files is too large to be read.")
            data = b"".join(unpacked(view, folder, found.packed))
            crc = zlib.crc32(data) if folder.crc32 is None else folder.crc32
        else:
            return broken("Its list of files is packed too many times over.")
        inner, files = listing(data, at + START_BYTES)
    except (Bad, Unreadable) as error:
        return broken(f"Its list of files cannot be read: {error}.")
    items, parts = _items(inner, files, first.header_offset, view.size, packed)
    return Archive(first, items, parts, inner, end)


class Unpacker:
    """Gives files of one archive; those of a block asked for in order are unpacked in one pass."""

    def __init__(self, view: View, found: Archive) -> None:
        self._view = view
        self._found = found
        self._budget = SkipBudget(view.size)
        self._block = -1
        self._next = 0
        self._bytes: Iterator[bytes] = iter(())
        self._held = b""
        self._broken: dict[int, tuple[int, Unreadable]] = {}
        self._owner: list[tuple[int, int]] = []
        for index, one in enumerate(found.streams.folders):
            self._owner += [(index, len(self._owner))] * one.files

    def chunks(self, index: int) -> Iterator[bytes]:
        """The bytes of file `index`, checked against its CRC. Raises Unreadable, Differs, and the view's OSError."""
        item, part = self._found.items[index], self._found.parts[index]
        if not item.readable:
            raise Unreadable(item.why or "has no bytes")
        if part is None:
            return
        block, begins = self._owner[part]
        parts = self._found.streams.parts
        if block in self._broken and part >= self._broken[block][0]:
            raise self._broken[block][1]
        if block != self._block or part < self._next:
            self._block, self._held = block, b""
            self._next = begins
            folder = self._found.streams.folders[block]
            self._bytes = unpacked(self._view, folder, self._found.streams.packed)
        try:
            while self._next < part:
                for chunk in self._take(parts[self._next][0]):
                    self._budget.spend(len(chunk))
                self._next += 1
            size, stated = parts[part]
            crc = 0
            for chunk in self._take(size):
                crc = zlib.crc32(chunk, crc)
                yield chunk
            self._next += 1
        except Unreadable as error:
            self._block = -1
            self._broken[block] = (self._next, error)
            raise
        except BaseException:  # also where the one who asked has gone: what is held is then in the middle of a file
            self._block = -1
            raise
        if stated is not None and crc != stated:
            raise Differs(f"has bytes of the CRC {crc:08x}, its directory says {stated:08x}")

    def _take(self, left: int) -> Iterator[bytes]:
        while left:
            if not self._held:
                self._held = next(self._bytes, b"")
                if not self._held:
                    raise Unreadable("unpacks to fewer bytes than its header says")
            part = self._held[:left]
            self._held = self._held[left:]
            left -= len(part)
            yield part


def read(view: View) -> Reading | None:
    """The archive that begins `view`; None where none does."""
    found = archive(view)
    return None if found is None else _reading(view, found, 0)


def behind(view: View, begin: int) -> Reading | None:
    """The archive that begins at or shortly behind `begin`, where a program ends, and whose list can be read.

    Offsets are absolute in `view`.
    """
    raw = view.at(begin, _BEFORE)
    at = raw.find(MAGIC)
    while at >= 0:
        first = start(view, begin + at)
        if first is not None and first.sound and 0 < first.header_size <= view.size - first.header_offset:
            found = archive(view, begin + at)
            return None if found is None else _reading(view, found, begin + at)
        at = raw.find(MAGIC, at + 1)
    return None


def _reading(view: View, found: Archive, at: int) -> Reading:
    first, folders = found.first, found.streams.folders
    methods = tuple(sorted({name_of(one.method) for folder in folders for one in folder.coders}))
    solid = any(one.files > 1 for one in folders)
    fields = [
        Field("version", f"{first.version[0]}.{first.version[1]}", at + 6, 2, "Format version", SOURCE),
        Field("header_offset", first.header_offset, at + 12, 8, "Where the list of files lies", SOURCE),
        Field("header_size", first.header_size, at + 20, 8, "Bytes of the list of files", SOURCE),
        Field("packing", methods[:64], None, 0, "How its files are packed", "Methods.txt of the LZMA SDK"),
        Field("blocks", len(folders), None, 0, "Blocks of files packed together", "7zFormat.txt, Coders Info"),
        Field("solid", solid, None, 0, "Whether several files share a block", "7zFormat.txt, SubStreams Info"),
    ]
    code = "archive-locked" if found.locked else "archive-damaged"
    spans = [Span("first header", at, START_BYTES)]
    stop = min(first.header_offset, view.size)
    if stop > at + START_BYTES:
        spans.append(Span("packed files", at + START_BYTES, stop - at - START_BYTES))
    if found.end > stop:
        spans.append(Span("list of files", stop, found.end - stop))
    notes = []
    if found.end < view.size and first.sound:
        spans.append(Span("behind the archive", found.end, view.size - found.end))
        notes.append(Fault("data-after-end", "Bytes lie behind the archive.", found.end))
    return archive_items.reading(
        "7z",
        KIND,
        archive_items.counted("7z archive", found.items),
        view.size,
        found.items,
        fields=fields,
        faults=[Fault(code, text, at) for text in found.faults],
        notes=notes,
        spans=spans,
        offset=at,
        length=found.end - at if at else view.size,
    )


def _items(
    inner: Streams, files: list[Listed], base: int, end: int, packed: bool
) -> tuple[tuple[Item, ...], tuple[int | None, ...]]:
    """Items and their numbers among the blocks' files; in a packed header the names stand nowhere in the file."""
    why: list[str] = []
    for folder in inner.folders:
        text = why_not(folder)
        used = inner.packed[folder.streams : folder.streams + len(folder.packed)]
        if not text and any(offset + size > end for offset, size in used):
            text = "is cut short, or goes on in another volume"
        why += [text] * folder.files
    items: list[Item] = []
    parts: list[int | None] = []
    number = 0
    for one in files:
        name = one.name[: 2 * MAX_NAME].decode("utf-16-le", "replace")
        unsafe = f"has a name of {len(one.name)} bytes" if len(one.name) > 2 * MAX_NAME else unsafe_name(name)
        size, crc, fault, part = 0, None, "", None
        if one.stream:
            part = number
            size, crc = inner.parts[number]
            fault = why[number]
            number += 1
        aside = _aside(one)
        folder_ = one.folder or bool(one.attributes & _WINDOWS_FOLDER and not one.stream)
        items.append(
            Item(
                name,
                size,
                0,
                min(base if packed else base + one.listed_at, end),
                None,
                crc,
                folder_,
                fault == "is encrypted",
                0,
                fault,
                unsafe,
                aside,
                not fault and not aside and not folder_,
            )
        )
        parts.append(part)
    return together(items), tuple(parts)


def _aside(one: Listed) -> str:
    if one.anti:
        return "says that a file is to be taken away"
    mode = one.attributes >> 16 if one.attributes & _UNIX else 0
    if stat.S_ISLNK(mode) or one.attributes & _WINDOWS_LINK:
        return LINK
    if stat.S_IFMT(mode) not in (0, stat.S_IFREG, stat.S_IFDIR):
        return DEVICE
    return ""


READER = Reader(
    first=(MAGIC[:4],),
    name="7z",
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    version=1,
    source="7zFormat.txt of the LZMA SDK",
    depth="both headers, packed ones too, with their CRCs; blocks by LZMA, LZMA2, Deflate, BZip2, Delta and branch "
    "filters (BCJ2 too) unpacked in one pass; encrypted, split, otherwise packed ones say so; behind programs too",
)
