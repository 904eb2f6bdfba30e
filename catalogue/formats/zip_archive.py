"""Zip archives, alone or behind a program: what they list, and what is wrong with them.

PKWARE APPNOTE.TXT 6.3. `zip_directory.directory` is what unpacking needs; this file makes a reading of it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from catalogue.formats.limits import MAX_PARTS, MAX_TEXT
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import View
from catalogue.formats.zip_directory import END, END_BYTES, LOCAL, Directory, Entry, directory
from catalogue.shapes.reading import Fault, Field, Member, Reading, Span

SOURCE = "PKWARE APPNOTE 4.3.16"
KIND = "archive/zip"
SPLIT = (b"PK\x07\x08", b"PK00")
"""First bytes of a split archive's first volume, and of one that was meant to be split (8.5.3, 8.5.4)."""
_FIRST = (LOCAL, END, *SPLIT)
_MOST_SAID = 50
"""Faults of one archive's members that are told one by one."""


def looks_like(view: View) -> Looks:
    """SURE for an archive's first bytes; MAYBE where an end record without a comment closes the view."""
    if view.at(0, 4) in _FIRST:
        return Looks.SURE
    tail = view.at(view.size - END_BYTES, END_BYTES)
    return Looks.MAYBE if tail[:4] == END and tail[20:] == b"\0\0" else Looks.NO


def maybe(data: bytes) -> bool:
    """Whether `looks_like` could say anything but NO."""
    return data[-END_BYTES : 4 - END_BYTES] == END or data.startswith((LOCAL, END, *SPLIT))


def read(view: View) -> Reading | None:
    """The archive that fills `view`. None where the first bytes are not an archive's and the last lead to none."""
    first = view.at(0, 4)
    found = directory(view)
    if first in _FIRST:
        return _headless(view, first) if found is None else _reading(view, found, 0, view.size)
    return None if found is None or not found.entries else _reading(view, found, 0, view.size)


def behind(view: View, start: int) -> Reading | None:
    """The archive that ends `view` and begins at or behind `start`, where a program ends; None where there is none.

    Offsets are absolute in `view`.
    """
    found = directory(view)
    if found is None or not found.entries or min(one.header_offset for one in found.entries) < start:
        return None
    start = max(start, found.start)
    return _reading(view, found, start, found.end - start)


def _headless(view: View, first: bytes) -> Reading:
    text = "The archive's end record is missing: it is cut short, or the rest of it is in another file."
    if first in SPLIT:
        text = "This is the first volume of a split archive; the others are missing."
    return Reading(
        format="zip",
        kind=KIND,
        title="Zip archive without its end",
        length=view.size,
        faults=(Fault("archive-damaged", text, view.size),),
        spans=(Span("unread archive", 0, view.size),),
    )


def _reading(view: View, found: Directory, start: int, length: int) -> Reading:
    files = sum(not one.folder for one in found.entries)
    notes: list[Fault] = []
    if found.end < view.size:
        notes.append(Fault("data-after-end", "Bytes lie behind the archive's end record.", found.end))
    if start == 0 and found.start > 0:
        notes.append(Fault("archive-odd", "Other bytes stand before the archive.", 0))
    backslashes = sum("\\" in one.name for one in found.entries)
    if backslashes:
        notes.append(Fault("archive-odd", f"Names with backslashes: {backslashes}.", found.directory_offset))
    return Reading(
        format="zip",
        kind=KIND,
        title=f"Zip archive of {files} file{'' if files == 1 else 's'}",
        offset=start,
        length=length,
        fields=_fields(found),
        faults=tuple(_faults(found)),
        notes=tuple(notes),
        members=tuple(_member(one) for one in found.entries),
        spans=tuple(_spans(view, found, start)),
    )


def _fields(found: Directory) -> tuple[Field, ...]:
    record = found.end_offset
    fields = [
        Field("members", len(found.entries), record + 10, 2, "Entries of the directory", SOURCE),
        Field("directory_offset", found.directory_offset, record + 16, 4, "Where the directory lies", SOURCE),
        Field("zip64", found.zip64, None, 0, "Whether sizes are 64 bits wide", "PKWARE APPNOTE 4.3.14"),
    ]
    if found.comment:
        comment = found.comment[:MAX_TEXT].decode("cp437")
        at = record + END_BYTES
        fields.append(Field("comment", comment, at, len(found.comment), "The archive's comment", SOURCE))
    return tuple(fields)


def _faults(found: Directory) -> Iterable[Fault]:
    for text in found.faults:
        yield Fault("archive-damaged", text, found.end_offset)
    said: Counter[str] = Counter()
    for one in found.entries:
        for code, text in _wrong(one):
            said[code] += 1
            if said.total() <= _MOST_SAID:
                yield Fault(code, f"Member {one.name[:200]!r} {text}.", one.listed_at)
    if said.total() > _MOST_SAID:
        text = f"{said.total() - _MOST_SAID} more faults of members."
        yield Fault(said.most_common(1)[0][0], text, found.directory_offset)


def _wrong(entry: Entry) -> Iterable[tuple[str, str]]:
    if entry.fault:
        yield ("archive-locked" if entry.encrypted else "archive-damaged"), entry.fault
    if entry.unsafe:
        yield "archive-name", entry.unsafe


def _member(entry: Entry) -> Member:
    return Member(entry.name, entry.size, entry.packed_size, entry.crc32, entry.encrypted, entry.folder, entry.fault)


def _spans(view: View, found: Directory, start: int) -> Iterable[Span]:
    if start == 0 and found.start > 0:
        yield Span("before the archive", 0, found.start)
    shown = [one for one in found.entries if one.data_offset is not None][: MAX_PARTS - 8]
    for one in shown:
        stop = min((one.data_offset or 0) + one.packed_size, found.directory_offset)
        if stop > one.header_offset:
            yield Span(one.name[:80] or "member without a name", one.header_offset, stop - one.header_offset)
    if found.end_offset > found.directory_offset:
        yield Span("directory", found.directory_offset, found.end_offset - found.directory_offset)
    yield Span("end record", found.end_offset, found.end - found.end_offset)
    if found.end < view.size:
        yield Span("behind the archive", found.end, view.size - found.end)


READER = Reader(
    name="zip",
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    maybe=maybe,
    version=1,
    source="PKWARE APPNOTE.TXT 6.3",
    depth="directory and local headers, with every contradiction between them; ZIP64; archives behind programs",
)
