"""Cabinets: what they list, and what is wrong with them ([MS-CAB] 2.1 to 2.4). `cabinet_data` unpacks them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from catalogue.formats import archive_items
from catalogue.formats.archive_items import Item, named, together
from catalogue.formats.limits import MAX_CAB_FOLDERS, MAX_DIRECTORY_BYTES, MAX_MEMBERS, MAX_PARTS
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.rows import Kind, Row, number, read_rows
from catalogue.formats.view import PartView, View
from catalogue.shapes.reading import Fault, Field, Member, Reading, Span

SOURCE = "[MS-CAB] 2.1 CFHEADER"
MAGIC = b"MSCF"
KIND = "archive/cab"
HEADER_BYTES, _FOLDER_BYTES, _FILE_BYTES = 36, 8, 16
_PREVIOUS, _NEXT, _RESERVE = 1, 2, 4
_NAME_IS_UTF8 = 0x80
_FROM_PREVIOUS, _TO_NEXT, _BOTH = 0xFFFD, 0xFFFE, 0xFFFF
METHODS = {0: "stored", 1: "MSZIP", 2: "Quantum", 3: "LZX"}
STORED, MSZIP = 0, 1
_LONGEST_NAME = 256
_SIGNED_RESERVE = 20
"""Bytes of the header's reserved area in a signed cabinet: where the signature lies, and its length (from memory)."""
_ROWS = (
    Row("cabinet_size", 8, 4, Kind.LE, SOURCE, "Bytes of this cabinet"),
    Row("files_offset", 16, 4, Kind.LE, SOURCE, "Where the list of files lies"),
    Row("version_minor", 24, 1, Kind.LE, SOURCE, "Format version, second number"),
    Row("version_major", 25, 1, Kind.LE, SOURCE, "Format version, first number"),
    Row("folder_count", 26, 2, Kind.LE, SOURCE, "Folders: files that are packed together"),
    Row("file_count", 28, 2, Kind.LE, SOURCE, "Files"),
    Row("flags", 30, 2, Kind.LE, SOURCE, "1 a cabinet before, 2 a cabinet after, 4 reserved areas"),
    Row("set_id", 32, 2, Kind.LE, SOURCE, "Number of the set of cabinets"),
    Row("set_index", 34, 2, Kind.LE, SOURCE, "Which of the set this one is, from 0"),
)


@dataclass(frozen=True, slots=True)
class Folder:
    """Files that are packed together: `blocks` CFDATA structures from `offset` on, packed by `method`."""

    offset: int
    blocks: int
    method: int
    listed_at: int


@dataclass(frozen=True, slots=True)
class Cabinet:
    """What a cabinet lists. `places[i]` is item i's folder and its first byte in that folder's unpacked bytes.

    `end` is where the cabinet says it ends. `signature` is [start, stop) of bytes that sign it, where there are any.
    `reserve` is how many bytes stand reserved in each data block's header.
    """

    items: tuple[Item, ...]
    places: tuple[tuple[int, int], ...]
    folders: tuple[Folder, ...]
    fields: tuple[Field, ...]
    listed_end: int
    end: int
    reserve: int
    before: str = ""
    after: str = ""
    signature: tuple[int, int] | None = None
    faults: tuple[str, ...] = ()


def looks_like(view: View) -> Looks:
    """SURE for the signature and the zeros that CFHEADER demands behind it."""
    first = view.at(0, 8)
    return Looks.SURE if first == MAGIC + bytes(4) and view.size >= HEADER_BYTES else Looks.NO


def cabinet(view: View) -> Cabinet | None:
    """What the cabinet that begins `view` lists; None where none does. Raises nothing but the view's OSError."""
    if looks_like(view) is Looks.NO:
        return None
    found = read_rows(_ROWS, view, 0)
    fields = list(found.values())
    faults: list[str] = []
    flags, size = number(found, "flags"), number(found, "cabinet_size")
    at, reserves = HEADER_BYTES, (0, 0, 0)
    signature = None
    if flags & _RESERVE:
        raw = view.at(at, 4)
        reserves = (int.from_bytes(raw[:2], "little"), raw[2] if len(raw) > 2 else 0, raw[3] if len(raw) > 3 else 0)
        signature = _signature(view, at + 4, reserves[0], size)
        at += 4 + reserves[0]
    names = []
    for flag in (_PREVIOUS, _NEXT):
        name = ""
        if flags & flag:
            name, at = _text(view, at)
            _, at = _text(view, at)
        names.append(name)
    folders = []
    count = number(found, "folder_count")
    if count > MAX_CAB_FOLDERS:
        faults.append(f"It lists {count} folders; the first {MAX_CAB_FOLDERS} are read.")
    for _ in range(min(count, MAX_CAB_FOLDERS)):
        raw = view.at(at, _FOLDER_BYTES)
        if len(raw) < _FOLDER_BYTES:
            break
        method = int.from_bytes(raw[6:8], "little")
        folders.append(Folder(int.from_bytes(raw[:4], "little"), int.from_bytes(raw[4:6], "little"), method, at))
        at += _FOLDER_BYTES + reserves[1]
    items, places, listed_end = _files(view, number(found, "files_offset"), number(found, "file_count"), folders)
    if number(found, "version_major") != 1:
        faults.append("Its format version is not 1, the only one that is published.")
    if len(folders) < min(count, MAX_CAB_FOLDERS) or len(items) < number(found, "file_count"):
        faults.append(f"It counts {number(found, 'file_count')} files, {len(items)} are listed.")
    if size > view.size:
        faults.append(f"It is cut short: it has {view.size} bytes and says {size}.")
    items = list(together(items))
    return Cabinet(tuple(items), tuple(places), tuple(folders), tuple(fields), listed_end, size, reserves[2],
                   names[0], names[1], signature, tuple(faults))  # fmt: skip


def behind(view: View, start: int) -> Reading | None:
    """The cabinet that begins exactly at `start`, where a program ends; its offsets are absolute in `view`."""
    from catalogue.formats.shifted import shifted

    part = PartView(view, start, view.size - start)
    if looks_like(part) is Looks.NO:
        return None
    made = read(part)
    if made is None:
        return None
    length = min(made.length, max(HEADER_BYTES, int.from_bytes(part.at(8, 4), "little")))
    return shifted(replace(made, length=length, members=tuple(_moved(one, start) for one in made.members)), start)


def _moved(one: Member, by: int) -> Member:
    return replace(one, header_offset=(one.header_offset or 0) + by)


def read(view: View) -> Reading | None:
    """The cabinet that begins `view`; None where none does."""
    found = cabinet(view)
    if found is None:
        return None
    fields = list(found.fields)
    methods = tuple(sorted({METHODS.get(one.method & 15, f"method {one.method & 15}") for one in found.folders}))
    fields.append(Field("packing", methods, None, 0, "How its folders are packed", "[MS-CAB] 2.2 CFFOLDER"))
    notes: list[Fault] = []
    for name, value in (("cabinet_before", found.before), ("cabinet_after", found.after)):
        if value:
            fields.append(Field(name, value, None, 0, "The other cabinet of the set, as it is named", SOURCE))
    if found.before or found.after:
        notes.append(Fault("archive-split", "It is one of a set of cabinets; what lies across them is not read.", 30))
    end = min(found.end, view.size)
    rest = view.size - end
    if found.signature is not None:
        start, stop = found.signature
        text = "It carries a signature, which is not checked here."
        notes.append(Fault("signature-not-checked", text, start))
        fields.append(Field("signature_length", stop - start, start, stop - start, "Bytes that sign it", "from memory"))
        rest -= stop - start
    if rest > 0:
        notes.append(Fault("data-after-end", "Bytes lie behind the cabinet's end.", end))
    return archive_items.reading(
        "cab",
        KIND,
        archive_items.counted("Cabinet", found.items),
        view.size,
        found.items,
        fields=fields,
        faults=[Fault("archive-damaged", text, 0) for text in found.faults],
        notes=notes,
        spans=_spans(view, found, end),
    )


def _spans(view: View, found: Cabinet, end: int) -> Iterator[Span]:
    yield Span("header", 0, min(HEADER_BYTES, view.size))
    offsets = sorted({one.offset for one in found.folders if one.offset < end})[:MAX_PARTS]
    yield Span("folders and files", HEADER_BYTES, max(0, min(found.listed_end, view.size) - HEADER_BYTES))
    for number_, (start, stop) in enumerate(pairwise((*offsets, end))):
        yield Span(f"folder {number_}", start, stop - start)
    if found.signature is not None:
        yield Span("signature", found.signature[0], found.signature[1] - found.signature[0])


def _signature(view: View, at: int, length: int, size: int) -> tuple[int, int] | None:
    """Where the reserved area says that a signature lies, right behind the cabinet."""
    raw = view.at(at, length)
    if length != _SIGNED_RESERVE or len(raw) < length:
        return None
    start, count = int.from_bytes(raw[4:8], "little"), int.from_bytes(raw[8:12], "little")
    return (start, start + count) if count and size <= start and start + count <= view.size else None


def _text(view: View, at: int) -> tuple[str, int]:
    raw, closed, _ = view.at(at, _LONGEST_NAME).partition(b"\0")
    return raw.decode("utf-8", "replace"), at + len(raw) + len(closed)


def _files(view: View, at: int, count: int, folders: list[Folder]) -> tuple[list[Item], list[tuple[int, int]], int]:
    stop = min((one.offset for one in folders if one.offset > at), default=view.size)
    raw = view.at(at, min(count * (_FILE_BYTES + _LONGEST_NAME), stop - at, MAX_DIRECTORY_BYTES))
    items: list[Item] = []
    places: list[tuple[int, int]] = []
    here = 0
    while len(items) < min(count, MAX_MEMBERS) and here + _FILE_BYTES < len(raw):
        size, start = (int.from_bytes(raw[here + i : here + i + 4], "little") for i in (0, 4))
        folder, flags = (int.from_bytes(raw[here + i : here + i + 2], "little") for i in (8, 14))
        stop = raw.find(b"\0", here + _FILE_BYTES, here + _FILE_BYTES + _LONGEST_NAME)
        if stop < 0:
            break
        name, unsafe = named(raw[here + _FILE_BYTES : stop])
        if not flags & _NAME_IS_UTF8 and not name.isascii():
            name = raw[here + _FILE_BYTES : stop].decode("cp437")
        fault = _fault(folder, folders)
        method = folders[folder].method & 15 if folder < len(folders) else 0
        items.append(Item(name, size, 0, at + here, method=method, fault=fault, unsafe=unsafe, readable=not fault))
        places.append((folder, start))
        here = stop + 1
    return items, places, at + here


def _fault(folder: int, folders: list[Folder]) -> str:
    if folder in (_FROM_PREVIOUS, _BOTH):
        return "begins in the cabinet before, which is needed to unpack it"
    if folder == _TO_NEXT:
        return "goes on in the next cabinet, which is needed to unpack it"
    if folder >= len(folders):
        return "lies in a folder that the cabinet does not list"
    method = folders[folder].method & 15
    if method not in (STORED, MSZIP):
        return f"is packed by {METHODS.get(method, f'method {method}')}, which is not read"
    return ""


READER = Reader(
    first=(MAGIC,),
    name="cab",
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    version=1,
    source="[MS-CAB]",
    depth="folders and files, reserved areas, sets of cabinets, that a signature is there; stored and MSZIP folders "
    "unpacked with their checksums, LZX and Quantum said to be unread; behind programs too",
)
