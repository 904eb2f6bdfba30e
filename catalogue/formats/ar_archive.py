"""`ar` archives, and Debian packages, which are such archives of three members.

Layout: System V and BSD `ar` (ar(5) of the BSDs; the long names of both). Package: deb(5) of dpkg.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from catalogue.formats import archive_items
from catalogue.formats.archive_items import Item, named, together
from catalogue.formats.limits import MAX_DIRECTORY_BYTES, MAX_MEMBERS, MAX_TEXT
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading, Span

MAGIC = b"!<arch>\n"
DEB, AR = "archive/deb", "archive/ar"
_HEADER_BYTES = 60
_CLOSE = b"`\n"
_TABLES = (b"/", b"/SYM64/", b"__.SYMDEF", b"__.SYMDEF SORTED")
"""Members that are a library's table of symbols."""
_VERSION = "debian-binary"
_CONTROL, _DATA = "control.tar", "data.tar"
_SUFFIXES = ("", ".gz", ".xz", ".zst", ".bz2", ".lzma")


@dataclass(frozen=True, slots=True)
class Listing:
    """The members in order, and what is wrong with the whole. `end` lies behind the last of them."""

    items: tuple[Item, ...]
    end: int
    faults: tuple[str, ...] = ()


def looks_like(view: View) -> Looks:
    """SURE for the archive's first eight bytes."""
    return Looks.SURE if view.at(0, len(MAGIC)) == MAGIC else Looks.NO


def listing(view: View) -> Listing | None:
    """The members, bounded by MAX_MEMBERS; None where no archive begins. Raises nothing but the view's OSError."""
    if looks_like(view) is Looks.NO:
        return None
    items: list[Item] = []
    faults: tuple[str, ...] = ()
    long_names = b""
    at = len(MAGIC)
    while at < view.size:
        raw = view.at(at, _HEADER_BYTES)
        size = _number(raw[48:58])
        if len(raw) < _HEADER_BYTES or raw[58:] != _CLOSE or size is None:
            faults = ("There is no whole header where a member should begin: it is cut short or damaged.",)
            break
        if len(items) == MAX_MEMBERS:
            faults = (f"It lists more than can be read: {len(items)} members are shown.",)
            break
        start = at + _HEADER_BYTES
        mark = raw[:16].rstrip(b" ")
        if mark == b"//":
            long_names = view.at(start, min(size, MAX_DIRECTORY_BYTES))
        elif mark not in _TABLES:
            items.append(_item(view, mark, at, size, long_names))
        at = start + size + size % 2
    end = min(at, view.size)
    return Listing(together(items), end, faults)


def chunks(view: View, found: Listing, index: int) -> Iterator[bytes]:
    """The bytes of one member. Raises Unreadable, and the view's OSError."""
    return archive_items.stored(view, found.items[index])


def read(view: View) -> Reading | None:
    """The archive that begins `view`; None where none does."""
    found = listing(view)
    if found is None:
        return None
    faults = [Fault("archive-damaged", text, found.end) for text in found.faults]
    fields: list[Field] = []
    spans = list(archive_items.member_spans(found.items, view.size))
    kind, what = AR, "ar archive"
    if found.items and found.items[0].name == _VERSION:
        kind, what = DEB, "Debian package"
        fields.append(_version(view, found.items[0]))
        faults += [Fault("archive-damaged", text, 0) for text in _odd_package(found, fields[0].value)]
        fields.append(
            Field("members", tuple(one.name[:80] for one in found.items[:16]), None, 0, "Its members", "deb(5)")
        )
    if found.faults and found.end < view.size:
        spans.append(Span("unread", found.end, view.size - found.end))
    return archive_items.reading(
        "ar",
        kind,
        archive_items.counted(what, found.items),
        view.size,
        found.items,
        fields=fields,
        faults=faults,
        spans=spans,
    )


def _item(view: View, mark: bytes, at: int, size: int, long_names: bytes) -> Item:
    start, left = at + _HEADER_BYTES, size
    if mark.startswith(b"#1/") and (length := _number(mark[3:])) is not None:  # BSD: the name stands before the bytes
        raw = view.at(start, min(length, left, archive_items.MAX_NAME + 1)).rstrip(b"\0")
        length = min(length, left)
        start, left = start + length, left - length
    elif mark[:1] == b"/" and (where := _number(mark[1:])) is not None:  # System V: it stands in the table of names
        stop = long_names.find(b"\n", where)
        raw = long_names[where : stop if stop >= 0 else where].removesuffix(b"/")
    else:
        raw = mark.removesuffix(b"/")
    name, unsafe = named(raw)
    fault = "is cut short" if start + left > view.size else ""
    return Item(name, left, left, at, start, fault=fault, unsafe=unsafe, readable=not fault)


def _number(raw: bytes) -> int | None:
    digits = raw.strip(b" ")
    return int(digits) if digits.isdigit() and len(digits) < 16 else None


def _version(view: View, item: Item) -> Field:
    size = min(item.size, MAX_TEXT)
    text = view.at(item.data_offset or 0, size).decode("ascii", "replace").strip()
    return Field("package_format", text, item.data_offset, len(view.at(item.data_offset or 0, size)),
                 "Version of the package format", "deb(5), debian-binary")  # fmt: skip


def _odd_package(found: Listing, version: object) -> Iterator[str]:
    """What deb(5) demands and this package lacks."""
    if not str(version).startswith("2."):
        yield "Its package format is not 2.x, the only one that deb(5) describes."
    names = [one.name for one in found.items]
    for what in (_CONTROL, _DATA):
        count = sum(name.removeprefix(what) in _SUFFIXES for name in names if name.startswith(what))
        if count != 1:
            yield f"It has {count or 'no'} members called {what}.*, where deb(5) demands one."


READER = Reader(
    first=(MAGIC[:4],),
    name="ar",
    kinds=(DEB, AR),
    looks_like=looks_like,
    read=read,
    version=1,
    source="ar(5); deb(5) of dpkg",
    depth="members with the long names of both forms; a Debian package's members, opened further as tar archives",
)
