"""File entries and folders of UDF: what an entry is, and where its bytes lie.

ECMA-167 (3rd edition): 4/14.9 file entry, 4/14.17 extended file entry, 4/14.6 ICB tag, 4/14.14 allocation descriptors,
4/14.5 allocation extent descriptor, 4/14.4 file identifier descriptor.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from catalogue.formats.disk_files import DEVICE, HOLE, LINK, Extent, joined
from catalogue.formats.limits import MAX_DISK_EXTENTS
from catalogue.formats.udf_volume import LENGTH, TAG, Partition, tagged, text
from catalogue.formats.view import BytesView, View

_ENTRY, _EXTENDED, _ALLOCATION, _IDENTIFIER = 261, 266, 258, 257
FOLDER_TYPE, FILE_TYPES = 4, frozenset((0, 5, 249))
"""4/14.6.6 file types: folder; unspecified, bytes, real-time file (UDF 2.60, 2.3.5.2)."""
METADATA_TYPES = frozenset((250, 251))
"""A metadata file and its mirror (UDF 2.60, 2.2.13.1)."""
_LINK_TYPE, _DEVICE_TYPES = 12, frozenset((6, 7, 9, 10))
_SHORT, _LONG, _WITHIN = 0, 1, 3
_RECORDED, _NEXT = 0, 3
_PLAIN_STRATEGY = 4
_MOST_AREAS = 4_096
"""Continued areas of allocation descriptors of one file."""
DELETED, PARENT, METADATA = 0x04, 0x08, 0x10
"""4/14.4.3 file characteristics; bit 4 from ECMA-167's UDF 2.00 on."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A file entry. `embedded` is the offset of bytes that lie inside the entry itself, None where they lie elsewhere.

    `streams`: whether it has named streams.
    """

    kind: int
    size: int
    extents: tuple[Extent, ...]
    embedded: int | None
    streams: bool
    fault: str = ""


@dataclass(frozen=True, slots=True)
class Listed:
    """One file identifier: a name, and where the entry lies. `at` is its offset in the folder's bytes."""

    name: str
    flags: int
    partition: int
    block: int
    at: int


def file_entry(
    view: View,
    maps: Sequence[Partition],
    partition: int,
    at: int,
    block: int,
    types: frozenset[int] = FILE_TYPES,
) -> Entry | None:
    """The entry at `at`; None where it is damaged. One that is no folder must be of one of `types`."""
    kind = int.from_bytes(view.at(at, 2), "little")
    raw = tagged(view, at, kind, block) if kind in (_ENTRY, _EXTENDED) else None
    if raw is None or len(raw) < 216:
        return None
    flags, strategy, file_type = int.from_bytes(raw[34:36], "little"), int.from_bytes(raw[20:22], "little"), raw[27]
    size = int.from_bytes(raw[56:64], "little")
    streams = kind == _EXTENDED and any(raw[152:156])
    at_lengths = 168 if kind == _ENTRY else 208
    extra = int.from_bytes(raw[at_lengths : at_lengths + 4], "little")
    length = int.from_bytes(raw[at_lengths + 4 : at_lengths + 8], "little")
    start = at_lengths + 8 + extra
    if start + length > block:
        return Entry(file_type, size, (), None, streams, "has an entry whose parts do not fit into a block")
    fault = _kind_fault(file_type, types)
    if strategy != _PLAIN_STRATEGY:
        fault = fault or f"is kept by strategy {strategy}, which is not read"
    how = flags & 7
    if how == _WITHIN:
        if size > length:
            fault = fault or "has fewer bytes than its directory says"
        within = ((at + start, size),) if size and size <= length else ()
        return Entry(file_type, size, within, at + start, streams, fault)
    if how not in (_SHORT, _LONG):
        return Entry(file_type, size, (), None, streams, fault or "has allocation descriptors that are not read")
    extents, why = _extents(view, maps, partition, raw[start : start + length], how, block)
    if not why and sum(length for _, length in extents) < size:
        why = "has fewer bytes than its directory says"
    return Entry(file_type, size, _cut(extents, size), None, streams, fault or why)


def identifiers(data: bytes) -> Iterator[Listed | None]:
    """The file identifiers in a folder's bytes; None where one is damaged, which ends it."""
    at = 0
    view = BytesView(data)
    while at + 38 <= len(data):
        raw = tagged(view, at, _IDENTIFIER, 38)
        if raw is None:
            yield None
            return
        name_bytes, use = raw[19], int.from_bytes(raw[36:38], "little")
        start = at + 38 + use
        yield Listed(
            name=text(data[start : start + name_bytes]),
            flags=raw[18],
            partition=int.from_bytes(raw[28:30], "little"),
            block=int.from_bytes(raw[24:28], "little"),
            at=at,
        )
        at += (38 + use + name_bytes + 3) // 4 * 4


def _kind_fault(file_type: int, types: frozenset[int]) -> str:
    if file_type == _LINK_TYPE:
        return LINK
    if file_type in _DEVICE_TYPES:
        return DEVICE
    return "" if file_type == FOLDER_TYPE or file_type in types else f"is of file type {file_type}"


def _extents(
    view: View, maps: Sequence[Partition], partition: int, area: bytes, how: int, block: int
) -> tuple[tuple[Extent, ...], str]:
    """The stretches that a file's allocation descriptors name, its continued areas followed, bounded."""
    found: list[Extent] = []
    width = 8 if how == _SHORT else 16
    seen: set[int] = set()
    while True:
        following: tuple[int, int] | None = None
        for at in range(0, len(area) - width + 1, width):
            raw = int.from_bytes(area[at : at + 4], "little")
            length, kind = raw & LENGTH, raw >> 30
            if not length:
                break
            where = int.from_bytes(area[at + 4 : at + 8], "little")
            which = int.from_bytes(area[at + 8 : at + 10], "little") if how == _LONG else partition
            if kind == _NEXT:
                following = (which, where)
                break
            if kind != _RECORDED:
                found.append((HOLE, length))
                continue
            places = maps[which].locate(where, length) if which < len(maps) else None
            if places is None:
                return joined(found), "lies outside its partition"
            found += places
            if len(found) > MAX_DISK_EXTENTS:
                return joined(found), "lies in too many stretches"
        if following is None:
            return joined(found), ""
        places = maps[following[0]].locate(following[1], block) if following[0] < len(maps) else None
        if not places or places[0][0] in seen or len(seen) >= _MOST_AREAS:
            return joined(found), "has allocation descriptors that run in a circle or go on too long"
        seen.add(places[0][0])
        head = tagged(view, places[0][0], _ALLOCATION, block)
        if head is None:
            return joined(found), "has allocation descriptors that break off"
        area = head[TAG + 8 : TAG + 8 + int.from_bytes(head[20:24], "little")]


def _cut(extents: tuple[Extent, ...], size: int) -> tuple[Extent, ...]:
    made: list[Extent] = []
    for offset, length in extents:
        if size <= 0:
            break
        made.append((offset, min(length, size)))
        size -= length
    return tuple(made)
