"""The headers of an RPM package: an index of tags and a store of values.

RPM Reference Manual, "RPM V4 Package format" (rpm.org): lead, signature header, header; tags by their numbers there.
"""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.formats.limits import MAX_RPM_HEADER, MAX_RPM_TAGS
from catalogue.formats.view import View

MAGIC = b"\x8e\xad\xe8\x01"
INTRO_BYTES, ENTRY_BYTES = 16, 16
_WIDTHS = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8}
"""Bytes of one value of the types CHAR, INT8, INT16, INT32 and INT64."""
_STRING, _BINARY, _STRINGS, _I18N = 6, 7, 8, 9
_MOST_VALUES = 256


@dataclass(frozen=True, slots=True)
class Tag:
    """One entry of the index: its values, and where the first of them stands."""

    values: tuple[int, ...] | tuple[str, ...] | tuple[bytes, ...]
    offset: int
    length: int


@dataclass(frozen=True, slots=True)
class Header:
    """A header at `start`; `end` lies behind its store. `fault` says what is wrong with it, "" for nothing."""

    start: int
    end: int
    tags: dict[int, Tag]
    fault: str = ""

    def text(self, tag: int) -> str:
        """The first text of a tag, "" where it has none."""
        found = self.tags.get(tag)
        return str(found.values[0]) if found and found.values and isinstance(found.values[0], str) else ""

    def number(self, tag: int) -> int | None:
        """The first number of a tag."""
        found = self.tags.get(tag)
        return found.values[0] if found and found.values and isinstance(found.values[0], int) else None

    def raw(self, tag: int) -> bytes:
        """The bytes of a binary tag."""
        found = self.tags.get(tag)
        return found.values[0] if found and found.values and isinstance(found.values[0], bytes) else b""


def header(view: View, start: int) -> Header | None:
    """The header at `start`; None where none stands there. Raises nothing but the view's own OSError."""
    intro = view.at(start, INTRO_BYTES)
    if len(intro) < INTRO_BYTES or intro[:4] != MAGIC:
        return None
    count, size = int.from_bytes(intro[8:12], "big"), int.from_bytes(intro[12:], "big")
    store = start + INTRO_BYTES + ENTRY_BYTES * count
    end = store + size
    if count > MAX_RPM_TAGS or size > MAX_RPM_HEADER:
        return Header(
            start, min(end, view.size), {}, f"has a header of {count} tags and {size} bytes, too large to read"
        )
    index = view.at(start + INTRO_BYTES, ENTRY_BYTES * count)
    data = view.at(store, size)
    tags: dict[int, Tag] = {}
    fault = "ends inside a header" if len(data) < size or len(index) < ENTRY_BYTES * count else ""
    for at in range(0, len(index) // ENTRY_BYTES * ENTRY_BYTES, ENTRY_BYTES):
        number, kind, where, many = (int.from_bytes(index[at + 4 * i : at + 4 * i + 4], "big") for i in range(4))
        found = _tag(data, store, kind, where, many)
        if found is None:
            fault = fault or f"has a tag {number} whose values lie outside its header"
        else:
            tags.setdefault(number, found)
    return Header(start, min(end, view.size), tags, fault)


def _tag(data: bytes, store: int, kind: int, where: int, many: int) -> Tag | None:
    if where > len(data) or not many:
        return None
    some = min(many, _MOST_VALUES)
    if kind in _WIDTHS:
        width = _WIDTHS[kind]
        raw = data[where : where + width * some]
        if len(data) - where < width * many:
            return None
        numbers = tuple(int.from_bytes(raw[at : at + width], "big") for at in range(0, len(raw), width))
        return Tag(numbers, store + where, width * many)
    if kind == _BINARY:
        return Tag((data[where : where + many],), store + where, many) if len(data) - where >= many else None
    if kind in (_STRING, _STRINGS, _I18N):
        texts: list[str] = []
        at = where
        for _ in range(1 if kind == _STRING else some):
            stop = data.find(b"\0", at)
            if stop < 0:
                return None
            texts.append(data[at:stop].decode("utf-8", "replace"))
            at = stop + 1
        return Tag(tuple(texts), store + where, at - where)
    return Tag((), store + where, 0)
