"""What archives of several formats have in common: members as listed, what is wrong with them, a reading of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from catalogue.formats.limits import MAX_PARTS, MAX_SKIP_FREE, MAX_SKIP_RATIO, MAX_SKIPPED
from catalogue.formats.view import View
from catalogue.formats.zip_directory import unsafe_name
from catalogue.shapes.reading import Fault, Field, Member, Reading, Span

CHUNK = 1 << 18
"""Bytes that are handed on at a time."""
MAX_NAME = 4_096
"""Bytes of a member's name that are kept (PATH_MAX of Linux)."""
TWICE = "stands in the archive more than once"
LINK = "is a link, which is not followed"
DEVICE = "is a device, a pipe or a socket"
_MOST_SAID = 50
"""Faults of one archive's members that are told one by one."""


class Unreadable(Exception):
    """A member's bytes cannot be had, or are not what the archive says; the text says how, after "Member x"."""


class Differs(Unreadable):
    """All bytes of a member were given out, and then the archive's own check of them failed."""


class SkipBudget:
    """How many bytes may be unpacked only to be passed over, on the way to a member that lies behind them."""

    def __init__(self, packed: int) -> None:
        self._left = min(max(MAX_SKIP_FREE, MAX_SKIP_RATIO * packed), MAX_SKIPPED)

    def spend(self, count: int) -> None:
        """Count bytes passed over. Raises Unreadable where there were too many."""
        self._left -= count
        if self._left < 0:
            raise Unreadable("lies behind more packed bytes than are passed over to reach it")


@dataclass(frozen=True, slots=True)
class Item:
    """One member as its archive lists it.

    `listed_at` and `data_offset` are absolute in the view; `data_offset` is None where the bytes do not lie there as
    they are. `packed_size` is 0 where the archive does not say. `fault` says in one sentence what speaks against the
    member, `unsafe` what is wrong with its name, `aside` that it is no file (a link, a device); "" for nothing.
    `readable`: its bytes can be had, bounded by `size`.
    """

    name: str
    size: int
    packed_size: int
    listed_at: int
    data_offset: int | None = None
    crc32: int | None = None
    folder: bool = False
    encrypted: bool = False
    method: int = 0
    fault: str = ""
    unsafe: str = ""
    aside: str = ""
    readable: bool = True

    @property
    def why(self) -> str:
        """What keeps the member from being used, or speaks against it; "" for nothing."""
        return self.fault or self.aside


def named(raw: bytes) -> tuple[str, str]:
    """A member's name from its bytes (UTF-8, other bytes as surrogate escapes), and what is unsafe in it."""
    name = raw[:MAX_NAME].decode("utf-8", "surrogateescape")
    if len(raw) > MAX_NAME:
        return name, f"has a name of {len(raw)} bytes"
    return name, unsafe_name(name)


def together(items: Sequence[Item]) -> tuple[Item, ...]:
    """The items, those with a fault that share a name with another file."""
    seen = Counter(one.name for one in items if not one.folder)
    return tuple(
        replace(one, fault=TWICE) if not one.folder and not one.fault and seen[one.name] > 1 else one for one in items
    )


def stored(view: View, item: Item) -> Iterator[bytes]:
    """The bytes of a member that lie in the archive as they are. Raises Unreadable and the view's OSError."""
    if not item.readable or item.data_offset is None:
        raise Unreadable(item.why or "has no bytes of its own here")
    return stretch(view, item.data_offset, item.size)


def stretch(view: View, offset: int, left: int) -> Iterator[bytes]:
    """The `left` bytes from `offset`. Raises Unreadable where the view ends before, and the view's OSError."""
    while left > 0:
        data = view.at(offset, min(CHUNK, left))
        if not data:
            raise Unreadable("is cut short")
        yield data
        offset += len(data)
        left -= len(data)


def counted(what: str, items: Sequence[Item]) -> str:
    """A title: `what` of so many files."""
    files = sum(not one.folder for one in items)
    return f"{what} of {files} file{'' if files == 1 else 's'}"


def reading(
    name: str,
    kind: str,
    title: str,
    size: int,
    items: Sequence[Item],
    *,
    fields: Iterable[Field] = (),
    faults: Iterable[Fault] = (),
    notes: Iterable[Fault] = (),
    spans: Iterable[Span] = (),
    offset: int = 0,
    length: int | None = None,
) -> Reading:
    """A reading of an archive with these members in `size` bytes; what is wrong with them joins faults and notes."""
    return Reading(
        format=name,
        kind=kind,
        title=title,
        offset=offset,
        length=size - offset if length is None else length,
        fields=tuple(fields),
        faults=(*faults, *_faults(items)),
        notes=(*notes, *_notes(items)),
        members=tuple(_member(one) for one in items),
        spans=tuple(spans)[: 2 * MAX_PARTS],
    )


def member_spans(items: Sequence[Item], end: int) -> Iterator[Span]:
    """Stretches of members whose bytes lie in the archive, each with the header before it; at most MAX_PARTS."""
    for one in items[:MAX_PARTS]:
        stop = min((one.data_offset or one.listed_at) + one.packed_size, end)
        if stop > one.listed_at:
            yield Span(one.name[:80] or "member without a name", one.listed_at, stop - one.listed_at)


def _member(one: Item) -> Member:
    return Member(
        one.name, one.size, one.packed_size, one.crc32, one.encrypted, one.folder, one.why, one.listed_at, one.method
    )


def _faults(items: Sequence[Item]) -> Iterator[Fault]:
    said: Counter[str] = Counter()
    last = 0
    for one in items:
        for code, text in _wrong(one):
            said[code] += 1
            last = one.listed_at
            if said.total() <= _MOST_SAID:
                yield Fault(code, f"Member {one.name[:200]!r} {text}.", one.listed_at)
    if said.total() > _MOST_SAID:
        yield Fault(said.most_common(1)[0][0], f"{said.total() - _MOST_SAID} more faults of members.", last)


def _wrong(one: Item) -> Iterator[tuple[str, str]]:
    if one.fault:
        yield ("archive-locked" if one.encrypted else "archive-damaged"), one.fault
    if one.unsafe:
        yield "archive-name", one.unsafe


def _notes(items: Sequence[Item]) -> Iterator[Fault]:
    backslashes = [one for one in items if "\\" in one.name]
    if backslashes:
        yield Fault("archive-odd", f"Names with backslashes: {len(backslashes)}.", backslashes[0].listed_at)
    aside = [one for one in items if one.aside]
    if aside:
        count = len(aside)
        text = f"{count} member{' is' if count == 1 else 's are'} no file (links, devices) and not followed."
        yield Fault("archive-odd", text, aside[0].listed_at)
