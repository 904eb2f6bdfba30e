"""tar archives: POSIX ustar and pax, GNU's long names; older ones by their header's sum alone.

POSIX.1-2001, pax, "ustar Interchange Format" and "pax Interchange Format"; GNU tar manual, "Basic Tar Format". Members
lie in the archive as they are. Links, devices and sparse files are told apart and not followed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from catalogue.formats import archive_items
from catalogue.formats.archive_items import DEVICE, LINK, Item, named, together
from catalogue.formats.limits import MAX_DIRECTORY_BYTES, MAX_MEMBERS
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading, Span

SOURCE = "POSIX.1-2001, pax"
NAME, KIND = "tar", "archive/tar"
BLOCK = 512
MAX_EXTENDED = 64 << 10
"""Bytes of one extended header or long name that are looked at (PATH_MAX of Linux is 4,096)."""
_MAGIC_AT, _USTAR, _GNU = 257, b"ustar\x0000", b"ustar  \x00"
_FILES, _FOLDER, _LINKS, _DEVICES = b"0\x007", b"5", b"12", b"346"
_LONG_NAME, _LONG_LINK, _PAX, _PAX_ALL, _SPARSE = b"L", b"K", b"x", b"g", b"S"
_ASIDE = b"VMDN"
"""GNU: volume label, continued file, dumped folder, old long name."""
_SUM_AT, _SUM_BYTES = 148, 8
_SUM_DIGITS = b"01234567 \0"


@dataclass(frozen=True, slots=True)
class _Header:
    raw: bytes
    size: int
    type: bytes
    form: str

    @property
    def name(self) -> bytes:
        name = self.raw[:100].partition(b"\0")[0]
        prefix = self.raw[345:500].partition(b"\0")[0] if self.form == "ustar" else b""
        return prefix + b"/" + name if prefix else name


def header_of(raw: bytes) -> _Header | None:
    """The header in a block whose sum is right; None where there is none."""
    if len(raw) < BLOCK or raw[0] == 0:
        return None
    stated = _number(raw[_SUM_AT : _SUM_AT + _SUM_BYTES])
    whole = raw[:_SUM_AT] + b" " * _SUM_BYTES + raw[_SUM_AT + _SUM_BYTES : BLOCK]
    if stated is None or stated != sum(whole):
        return None
    size = _number(raw[124:136])
    magic = raw[_MAGIC_AT : _MAGIC_AT + 8]
    form = "ustar" if magic == _USTAR else "GNU" if magic == _GNU else "older"
    if form == "older" and (raw[257:500].strip(b"\0") or raw[156:157] not in b"\x000125"):
        return None
    return None if size is None else _Header(raw, size, raw[156:157], form)


def _number(raw: bytes) -> int | None:
    """An octal field, or GNU's base-256 one; None where it is neither."""
    if raw[:1] == b"\x80":
        return int.from_bytes(raw[1:], "big")
    text = raw.strip(b" \0")
    if not text:
        return 0
    return int(text, 8) if all(0x30 <= byte <= 0x37 for byte in text) else None


def begins(head: bytes) -> bool:
    """Whether these first bytes begin a tar archive that says so by its magic."""
    found = header_of(head[:BLOCK])
    return found is not None and found.form != "older"


def looks_like(view: View) -> Looks:
    """SURE for a header with magic and a right sum; MAYBE for an older one."""
    found = header_of(view.at(0, BLOCK))
    return Looks.NO if found is None else Looks.MAYBE if found.form == "older" else Looks.SURE


def maybe(data: bytes) -> bool:
    """See Reader.maybe."""
    return len(data) >= BLOCK and data[152] in _SUM_DIGITS and header_of(data[:BLOCK]) is not None


class Walk:
    """The members of the archive that begins `view`, in order. It asks for bytes further and further on, never back.

    `end` and `fault` (what is wrong with the whole) are known when `items` has ended.
    """

    def __init__(self, view: View) -> None:
        self.view = view
        self.end = 0
        self.fault = ""
        self.form = ""

    def items(self) -> Iterator[Item]:
        """Each member, bounded by MAX_MEMBERS. Raises nothing but the view's own exceptions."""
        at, count, names = 0, 0, 0
        extended: dict[str, bytes] = {}
        everywhere: dict[str, bytes] = {}
        while True:
            raw = self.view.at(at, BLOCK)
            head = header_of(raw)
            self.end = min(at, self.view.size)
            if head is None:
                self._closing(raw)
                return
            self.form = self.form or head.form
            start = at + BLOCK
            step = _blocks(head.size)
            if head.type in (_PAX, _PAX_ALL, _LONG_NAME, _LONG_LINK):
                body = self.view.at(start, min(head.size, MAX_EXTENDED))
                if head.size > MAX_EXTENDED or len(body) < head.size:
                    self.fault = "An extended header is cut short, or longer than is read."
                    return
                if head.type == _LONG_NAME:
                    extended["path"] = body.partition(b"\0")[0]
                elif head.type != _LONG_LINK:
                    (everywhere if head.type == _PAX_ALL else extended).update(_records(body))
                at = start + step
                continue
            item, step = _item(head, {**everywhere, **extended}, at, self.view.size)
            extended.clear()
            names += len(item.name)
            if count == MAX_MEMBERS or names > MAX_DIRECTORY_BYTES:
                self.fault = f"It lists more than can be read: {count} members are shown."
                return
            count += 1
            yield item
            at = start + step

    def _closing(self, raw: bytes) -> None:
        if not raw and self.end >= self.view.size:
            self.fault = "It ends without its two closing blocks of zeros: it may be cut short."
        elif raw.strip(b"\0") or len(raw) < BLOCK:
            self.fault = "There is no header where one should stand: it is cut short or damaged."
        else:
            self.end += 2 * BLOCK

    def chunks(self, item: Item) -> Iterator[bytes]:
        """The bytes of one member. Raises Unreadable, and the view's own exceptions."""
        return archive_items.stored(self.view, item)


def _blocks(size: int) -> int:
    return -(-size // BLOCK) * BLOCK


def _records(body: bytes) -> dict[str, bytes]:
    """The records of an extended header: "length keyword=value\\n"; those that are none end it."""
    found: dict[str, bytes] = {}
    at = 0
    while at < len(body):
        digits, blank, _rest = body[at : at + 8].partition(b" ")
        if not blank or not digits.isdigit():
            break
        length = int(digits)
        record = body[at + len(digits) + 1 : at + length]
        if length <= len(digits) + 2 or at + length > len(body) or record[-1:] != b"\n":
            break
        key, equals, value = record[:-1].partition(b"=")
        if equals:
            found[key.decode("ascii", "replace")[:100]] = value
        at += length
    return found


def _item(head: _Header, extended: dict[str, bytes], at: int, end: int) -> tuple[Item, int]:
    """A member, and how many bytes its content takes."""
    size, fault = head.size, ""
    stated = extended.get("size")
    if stated is not None:
        if stated.isdigit() and len(stated) < 20:
            size = int(stated)
        else:
            fault = "has a size in its extended header that is no number"
    name, unsafe = named(extended.get("path", head.name))
    folder = head.type == _FOLDER or (head.type in b"\x000" and name.endswith("/"))
    aside = ""
    if head.type in _LINKS:
        aside, size = LINK, 0
    elif head.type in _DEVICES:
        aside, size = DEVICE, 0
    elif head.type == _SPARSE or any(key.startswith("GNU.sparse") for key in extended):
        fault = "is a sparse file, whose bytes are not put together here"
    elif head.type in _ASIDE:
        aside = "is no file of its own (a label, or part of another volume)"
    elif not folder and head.type not in _FILES:
        aside = "has a type that is not read"
    step = _blocks(size)
    start = at + BLOCK
    if not fault and not aside and start + size > end:
        fault = "is cut short"
    readable = not fault and not aside and not folder
    return Item(
        name, 0 if folder else size, 0 if folder else size, at, start, folder=folder, fault=fault, unsafe=unsafe,
        aside=aside, readable=readable,
    ), step  # fmt: skip


def read(view: View) -> Reading | None:
    """The archive that begins `view`; None where none does, or where an older one lists nothing to the end."""
    first = header_of(view.at(0, BLOCK))
    if first is None:
        return None
    walk = Walk(view)
    items = together(list(walk.items()))
    if first.form == "older" and (walk.fault or not items):
        return None
    return listed(view, walk, items)


def listed(view: View, walk: Walk, items: tuple[Item, ...]) -> Reading:
    """The reading of an archive that was walked through."""
    notes: list[Fault] = []
    faults: list[Fault] = []
    if walk.fault.startswith("It ends without"):
        notes.append(Fault("archive-odd", walk.fault, walk.end))
    elif walk.fault:
        faults.append(Fault("archive-damaged", walk.fault, walk.end))
    end = min(walk.end, view.size)
    spans = list(archive_items.member_spans(items, view.size))
    if end < view.size:
        spans.append(Span("behind the last member", end, view.size - end))
        if not faults and view.at(end, min(view.size - end, 1 << 16)).strip(b"\0"):
            notes.append(Fault("data-after-end", "Bytes lie behind the archive's closing blocks.", end))
    return archive_items.reading(
        NAME,
        KIND,
        archive_items.counted("tar archive", items),
        view.size,
        items,
        fields=(Field("form", walk.form, _MAGIC_AT, 8, "Which form the first header has", SOURCE),),
        faults=faults,
        notes=notes,
        spans=spans,
    )


READER = Reader(
    name=NAME,
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    maybe=maybe,
    version=1,
    source="POSIX.1-2001, pax; GNU tar manual",
    depth="members of ustar, pax and GNU archives by name and offset; links, devices and sparse files told apart",
)
