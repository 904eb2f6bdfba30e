"""cpio archives with ASCII headers: `070701` and `070702` (SVR4, 8 hex digits a field) and `070707` (POSIX, octal).

SVR4: Linux kernel, Documentation/driver-api/early-userspace/buffer-format.rst. POSIX: IEEE Std 1003.1-2001, pax, "cpio
Interchange Format". The older form with binary headers is not read: its two first bytes are too weak a mark.
"""

from __future__ import annotations

import stat
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from catalogue.formats import archive_items
from catalogue.formats.archive_items import DEVICE, LINK, Differs, Item, named, together
from catalogue.formats.limits import MAX_DIRECTORY_BYTES, MAX_MEMBERS
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading, Span

SOURCE = "buffer-format.rst of Linux"
KIND = "archive/cpio"
NEW, SUMMED, OLD = b"070701", b"070702", b"070707"
_NEW_BYTES, _OLD_BYTES = 110, 76
_NEW_FIELDS = ("ino", "mode", "uid", "gid", "nlink", "mtime", "size", "maj", "min", "rmaj", "rmin", "names", "check")
_OLD_FIELDS = (("dev", 6), ("ino", 6), ("mode", 6), ("uid", 6), ("gid", 6), ("nlink", 6), ("rdev", 6), ("mtime", 11),
               ("names", 6), ("size", 11))  # fmt: skip
_LAST = b"TRAILER!!!"
_HEX, _OCTAL = frozenset(b"0123456789abcdefABCDEF"), frozenset(b"01234567")


@dataclass(frozen=True, slots=True)
class _Header:
    form: bytes
    values: dict[str, int]
    length: int

    @property
    def step(self) -> int:
        """What names and bytes are padded to: 4 in the SVR4 forms, nothing in POSIX's."""
        return 1 if self.form == OLD else 4


def looks_like(view: View) -> Looks:
    """SURE for a whole ASCII header."""
    return Looks.NO if _header(view, 0) is None else Looks.SURE


class Walk:
    """The members of the archive that begins `view`, in order. It asks for bytes further and further on, never back.

    `end` and `fault` (what is wrong with the whole) are known when `items` has ended; `sums` holds the stated sum of
    bytes of each member of a `070702` archive, by its number.
    """

    def __init__(self, view: View) -> None:
        self.view = view
        self.end = 0
        self.fault = ""
        self.form = ""
        self.sums: dict[int, int] = {}

    def items(self) -> Iterator[Item]:
        """Each member, bounded by MAX_MEMBERS. Raises nothing but the view's OSError."""
        at, count, names = 0, 0, 0
        while True:
            head = _header(self.view, at)
            self.end = min(at, self.view.size)
            if head is None:
                what = "It ends" if at >= self.view.size else "There is no header where one should stand,"
                self.fault = f"{what} before its closing entry: it is cut short or damaged."
                return
            self.form = self.form or head.form.decode()
            length = head.values["names"]
            raw = self.view.at(at + head.length, min(length, archive_items.MAX_NAME + 2))
            start = _up(at + head.length + length, head.step)
            if raw[: len(_LAST)] == _LAST and length == len(_LAST) + 1:
                self.end = min(start, self.view.size)
                return
            names += length
            if count == MAX_MEMBERS or names > MAX_DIRECTORY_BYTES:
                self.fault = f"It lists more than can be read: {count} members are shown."
                return
            item = _item(head, raw, at, start, self.view.size)
            if head.form == SUMMED:
                self.sums[count] = head.values["check"]
            count += 1
            yield item
            at = _up(start + item.size, head.step)

    def chunks(self, item: Item, number: int) -> Iterator[bytes]:
        """The bytes of one member. Raises Unreadable, Differs where their stated sum differs, OSError."""
        total, stated = 0, self.sums.get(number)
        for part in archive_items.stored(self.view, item):
            if stated is not None:
                total += sum(part)
            yield part
        if stated is not None and total & 0xFFFF_FFFF != stated:
            raise Differs(f"has bytes whose sum is {total & 0xFFFF_FFFF:08x}, its header says {stated:08x}")


def read(view: View) -> Reading | None:
    """The archive that begins `view`; None where none does."""
    if _header(view, 0) is None:
        return None
    walk = Walk(view)
    made = reading_of(walk, together(list(walk.items())), view.size)
    rest = view.size - walk.end
    if rest and not walk.fault:
        spans = (*made.spans, Span("behind the archive", walk.end, rest))
        made = replace(made, spans=spans)
        if view.at(walk.end, min(rest, 4096)).strip(b"\0"):
            note = Fault("data-after-end", "Bytes lie behind the archive's closing entry.", walk.end)
            made = replace(made, notes=(*made.notes, note))
    return made


def reading_of(walk: Walk, items: Sequence[Item], size: int) -> Reading:
    """The reading of an archive of `size` bytes whose members were all walked."""
    return archive_items.reading(
        "cpio",
        KIND,
        archive_items.counted("cpio archive", items),
        size,
        items,
        fields=(Field("form", walk.form, 0, 6, "Which of the three forms the headers have", SOURCE),),
        faults=[Fault("archive-damaged", walk.fault, min(walk.end, size))] if walk.fault else (),
        spans=archive_items.member_spans(items, size),
    )


def _header(view: View, at: int) -> _Header | None:
    raw = view.at(at, _NEW_BYTES)
    form = raw[:6]
    if form in (NEW, SUMMED):
        digits = raw[6:]
        if len(raw) < _NEW_BYTES or not _HEX.issuperset(digits):
            return None
        fields = zip(_NEW_FIELDS, range(0, 104, 8), strict=True)
        return _Header(form, {name: int(digits[where : where + 8], 16) for name, where in fields}, _NEW_BYTES)
    if form == OLD and len(raw) >= _OLD_BYTES and _OCTAL.issuperset(raw[6:_OLD_BYTES]):
        values, where = {}, 6
        for name, width in _OLD_FIELDS:
            values[name] = int(raw[where : where + width], 8)
            where += width
        return _Header(form, values, _OLD_BYTES)
    return None


def _item(head: _Header, raw: bytes, at: int, start: int, end: int) -> Item:
    size, mode, length = head.values["size"], head.values["mode"], head.values["names"]
    name, unsafe = named(raw.partition(b"\0")[0])
    if length > archive_items.MAX_NAME + 1:
        unsafe = f"has a name of {length} bytes"
    elif len(raw) == length and raw.find(b"\0") != length - 1:
        unsafe = unsafe or "has a name that is not closed by its one zero byte"
    aside = ""
    if stat.S_ISLNK(mode):
        aside = LINK
    elif not stat.S_ISREG(mode) and not stat.S_ISDIR(mode):
        aside = DEVICE
    elif stat.S_ISREG(mode) and head.values["nlink"] > 1 and not size and head.step > 1:
        aside = "is a further name of a file, without bytes of its own here"
    fault = "is cut short" if start + size > end else ""
    folder = stat.S_ISDIR(mode)
    return Item(name, size, size, at, start, folder=folder, fault=fault, unsafe=unsafe, aside=aside,
                readable=not fault and not aside and not folder)  # fmt: skip


def _up(offset: int, step: int) -> int:
    return -(-offset // step) * step


READER = Reader(
    first=(b"0707",),
    name="cpio",
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    version=1,
    source="buffer-format.rst of Linux; POSIX.1-2001, pax",
    depth="entries of the three ASCII forms, links and devices told apart, sums of bytes compared",
)
