"""Files that lie stored in a disk image: where their bytes are, what is wrong with them, and the bytes themselves.

What the readers of ISO 9660, UDF and FAT have in common. Nothing here is trusted; every walk keeps the bounds of
`limits`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

from catalogue.formats.limits import MAX_DISK_EXTENTS, MAX_MEMBERS, MAX_PARTS
from catalogue.formats.view import View
from catalogue.formats.zip_directory import unsafe_name
from catalogue.shapes.reading import Fault, Field, Member, Reading, Span

HOLE = -1
"""The offset of an extent that was never written: its bytes are zeros and lie nowhere."""
Extent = tuple[int, int]
"""Offset in the image, or HOLE, and length."""
DAMAGED, ODD, NAME, UNREAD = "archive-damaged", "archive-odd", "archive-name", "archive-unread"
CROSS_LINKED = "shares its bytes with another member"
TWICE = "stands in the image more than once"
LINK, DEVICE = "is a link, which is not followed", "is a device or a pipe"
PAST_END = "runs past the end of the image"
_CHUNK = 1 << 20
_MOST_SAID = 50
_ZEROS = bytes(64 << 10)


class CutShort(Exception):
    """The bytes of a file are not all there; the text says so, after "Member x"."""


@dataclass(frozen=True, slots=True)
class DiskFile:
    """One entry of a file system. `name` is its path from the root with `/` between; odd bytes are surrogate escapes.

    `short_name` is the other name the same entry has (8.3 on FAT, the primary volume's on ISO 9660), "" where it has
    none. `listed_at` is where its directory entry stands. `fault` says in one sentence why it must not be used, ""
    where nothing speaks against it, `unsafe` what is wrong with its name.
    """

    name: str
    size: int
    extents: tuple[Extent, ...] = ()
    folder: bool = False
    short_name: str = ""
    listed_at: int = 0
    fault: str = ""
    unsafe: str = ""

    @property
    def offset(self) -> int | None:
        """Where its bytes lie in one stretch; None where they are scattered or not written."""
        if not self.extents:
            return 0 if self.size == 0 else None
        return self.extents[0][0] if len(self.extents) == 1 and self.extents[0][0] != HOLE else None


@dataclass(slots=True)
class Listing:
    """A file system while it is read, then as it was found."""

    view: View
    fields: list[Field] = field(default_factory=list)
    files: list[DiskFile] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[Fault] = field(default_factory=list)
    spans: list[Span] = field(default_factory=list)
    extents: int = 0

    def damaged(self, text: str, offset: int = 0) -> None:
        """Note a fault of the whole, each only once."""
        self._say(self.faults, Fault(DAMAGED, text, self._inside(offset)))

    def odd(self, text: str, offset: int = 0, code: str = ODD) -> None:
        """Note an oddity, each only once."""
        self._say(self.notes, Fault(code, text, self._inside(offset)))

    def add(self, one: DiskFile) -> bool:
        """Take a file; False where the image lists more than can be read, which is said."""
        if len(self.files) >= MAX_MEMBERS or self.extents + len(one.extents) > MAX_DISK_EXTENTS:
            self.damaged(f"It lists more than can be read: {len(self.files)} members are shown.")
            return False
        self.extents += len(one.extents)
        self.files.append(one)
        return True

    def span(self, name: str, offset: int, length: int) -> None:
        """A stretch of the image for the ruler, as far as it is there."""
        length = min(length, self.view.size - offset)
        if offset >= 0 and length > 0 and len(self.spans) < MAX_PARTS:
            self.spans.append(Span(name, offset, length))

    def _say(self, to: list[Fault], fault: Fault) -> None:
        if len(to) < _MOST_SAID and fault not in to:
            to.append(fault)

    def _inside(self, offset: int) -> int:
        return max(0, min(offset, self.view.size))


def chunks(view: View, one: DiskFile) -> Iterator[bytes]:
    """The file's bytes in pieces of at most 1 MiB, `size` in all. Raises CutShort, and the view's OSError."""
    left = one.size
    for start, length in one.extents:
        done, wanted = 0, min(length, left)
        left -= wanted
        while done < wanted:
            most = min(_CHUNK, wanted - done)
            data = _ZEROS[:most] if start == HOLE else view.at(start + done, most)
            if not data:
                raise CutShort(PAST_END)
            yield data
            done += len(data)
    if left:
        raise CutShort("has fewer bytes than its directory says")


def joined(extents: Iterable[Extent]) -> tuple[Extent, ...]:
    """The extents with those that follow one another made one."""
    made: list[Extent] = []
    for offset, length in extents:
        if not length:
            continue
        if made:
            before, so_far = made[-1]
            if (before == HOLE and offset == HOLE) or (before != HOLE and before + so_far == offset):
                made[-1] = (before, so_far + length)
                continue
        made.append((offset, length))
    return tuple(made)


def settle(listing: Listing, *, links: bool) -> None:
    """Say of each file what can only be seen among all: bytes past the end, shared bytes, a name that stands twice.

    `links`: whether two names may stand for the very same bytes, as hard links do.
    """
    seen = Counter(one.name for one in listing.files)
    shared = _sharing(listing.files, links)
    for index, one in enumerate(listing.files):
        fault = one.fault
        if not fault and any(offset != HOLE and offset + length > listing.view.size for offset, length in one.extents):
            fault = PAST_END
        if not fault and index in shared:
            fault = CROSS_LINKED
        if not fault and not one.folder and seen[one.name] > 1:
            fault = TWICE
        unsafe = one.unsafe or unsafe_name(one.name)
        if fault != one.fault or unsafe != one.unsafe:
            listing.files[index] = replace(one, fault=fault, unsafe=unsafe)


def _sharing(files: list[DiskFile], links: bool) -> set[int]:
    """Which files lay claim to bytes that another, or the file itself elsewhere, claims too."""
    all_of: dict[tuple[Extent, ...], list[int]] = {}
    claims: list[tuple[int, int, int]] = []
    for index, one in enumerate(files):
        same = all_of.setdefault(one.extents, [])
        same.append(index)
        if len(same) == 1 or not links:
            claims += [(offset, offset + length, index) for offset, length in one.extents if offset != HOLE]
    claims.sort()
    shared: set[int] = set()
    stop, holder = -1, -1
    for start, end, index in claims:
        if start < stop:
            shared |= {holder, index}
        if end > stop:
            stop, holder = end, index
    return {other for index in shared for other in all_of[files[index].extents]}


def reading(listing: Listing, made_by: str, kind: str, title: str) -> Reading:
    """The reading of a listing that `settle` has looked over."""
    files = sum(not one.folder for one in listing.files)
    return Reading(
        format=made_by,
        kind=kind,
        title=f"{title} of {files} file{'' if files == 1 else 's'}",
        length=listing.view.size,
        fields=tuple(listing.fields),
        faults=(*listing.faults, *_of_members(listing)),
        notes=(*listing.notes, *_left_out(listing)),
        members=tuple(member(one) for one in listing.files),
        spans=tuple(_spans(listing)),
    )


def member(one: DiskFile) -> Member:
    """The file as a member of an archive."""
    at = one.offset if one.extents else None
    return Member(one.name, one.size, one.size, None, False, one.folder, one.fault, at)


def _of_members(listing: Listing) -> Iterator[Fault]:
    said = 0
    for one in listing.files:
        for code, text in ((DAMAGED, one.fault), (NAME, one.unsafe)):
            if not text or text in (LINK, DEVICE):
                continue
            said += 1
            if said <= _MOST_SAID:
                at = max(0, min(one.listed_at, listing.view.size))
                yield Fault(code, f"Member {one.name[:200]!r} {text}.", at)
    if said > _MOST_SAID:
        yield Fault(DAMAGED, f"{said - _MOST_SAID} more faults of members.", 0)


def _left_out(listing: Listing) -> Iterator[Fault]:
    """Links, devices and pipes: nothing is wrong with an image that has them."""
    for what, text in (("Links", LINK), ("Devices and pipes", DEVICE)):
        found = [one for one in listing.files if one.fault == text]
        if found:
            names = ", ".join(repr(one.name[-80:]) for one in found[:3])
            at = max(0, min(found[0].listed_at, listing.view.size))
            yield Fault(ODD, f"{what} that are left out: {len(found)} ({names}{', …' if len(found) > 3 else ''}).", at)


def _spans(listing: Listing) -> list[Span]:
    """The structures' stretches and the files', in their order, as far as they do not overlap."""
    found = list(listing.spans)
    for one in listing.files:
        if len(found) >= MAX_PARTS * 4:
            break
        for offset, length in one.extents[:4]:
            there = min(length, listing.view.size - offset)
            if offset != HOLE and there > 0:
                found.append(Span(one.name[-80:] or "a file without a name", offset, there))
    found.sort(key=lambda span: (span.offset, -span.length))
    made: list[Span] = []
    for span in found:
        if len(made) < MAX_PARTS and (not made or span.offset >= made[-1].offset + made[-1].length):
            made.append(span)
    return made
