"""The section table of an ELF file, and what a Linux kernel module says of itself in one of them.

System V gABI, chapter 4, "Sections"; Linux kernel, include/linux/module.h and moduleparam.h (`MODULE_INFO`: a
`.modinfo` section of `name=value` texts, each ended by a zero byte).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from catalogue.formats.limits import MAX_TEXT
from catalogue.formats.rows import Found, Kind, Row, number, printable, read_rows
from catalogue.formats.view import View
from catalogue.shapes.reading import Field, VersionClaim

SOURCE = "System V gABI, Section Header"
MODULE_SOURCE = "Linux kernel, MODULE_INFO"
MAX_SECTIONS = 512
_NO_BYTES = 8
"""SHT_NOBITS."""
_DATA = (".rodata", ".data", ".init.rodata", ".init.data", ".sdata", ".text.rodata", ".fwdata", ".firmware")
_MAX_NAMES, _MAX_INFO = 64 << 10, 64 << 10
_SAID = {
    "name": "Name of the module",
    "version": "Version of the module",
    "description": "What it is for",
    "license": "Its licence",
    "srcversion": "Digest of its source",
    "vermagic": "The kernel it was built for",
}


@dataclass(frozen=True, slots=True)
class Section:
    """One section with bytes in the file."""

    name: str
    offset: int
    size: int


def rows(width: int, kind: Kind) -> tuple[Row, ...]:
    """The layout of one section header where an address has `width` bytes."""
    return (
        Row("name", 0, 4, kind, SOURCE, "Where its name stands among the names"),
        Row("type", 4, 4, kind, SOURCE, "What it holds"),
        Row("offset", 8 + 2 * width, width, kind, SOURCE, "Where it lies"),
        Row("size", 8 + 3 * width, width, kind, SOURCE, "Bytes of it"),
    )


def read_sections(view: View, header: Found, width: int, kind: Kind) -> tuple[Section, ...]:
    """The sections that have bytes, at most MAX_SECTIONS; () where there is no table or it is damaged.

    `header` is the ELF header as read. Raises nothing but the view's own OSError.
    """
    table, step = number(header, "section_table"), number(header, "section_size")
    count, layout = min(number(header, "section_count"), MAX_SECTIONS), rows(width, kind)
    if not table or step < layout[-1].offset + layout[-1].size or table + count * step > view.size:
        return ()
    found = [read_rows(layout, view, table + index * step) for index in range(count)]
    names_at = number(header, "section_names")
    if names_at >= count:
        return ()
    where = found[names_at]
    names = view.at(number(where, "offset"), min(number(where, "size"), _MAX_NAMES))
    answer: list[Section] = []
    for one in found:
        offset, size = number(one, "offset"), number(one, "size")
        if size and number(one, "type") not in (0, _NO_BYTES) and offset + size <= view.size:
            start = number(one, "name")
            answer.append(Section(printable(names[start : start + 64].split(b"\0", 1)[0]), offset, size))
    return tuple(answer)


def data_stretches(sections: Sequence[Section]) -> list[tuple[int, int]]:
    """Where the texts of the program itself lie: not the names of symbols, nor what the tool chain wrote."""
    return [(one.offset, one.offset + one.size) for one in sections if one.name.startswith(_DATA)]


def module_info(view: View, sections: Sequence[Section]) -> tuple[tuple[Field, ...], tuple[VersionClaim, ...]]:
    """Fields and the version of a Linux kernel module; empty where there is no `.modinfo` section.

    Raises nothing but the view's own OSError.
    """
    place = next((one for one in sections if one.name == ".modinfo"), None)
    if place is None:
        return (), ()
    fields: dict[str, Field] = {}
    versions: list[VersionClaim] = []
    at = place.offset
    for raw in view.at(place.offset, min(place.size, _MAX_INFO)).split(b"\0"):
        start, at = at, at + len(raw) + 1
        key, equals, value = raw.partition(b"=")
        word = printable(key)
        if not equals or word not in _SAID or f"module_{word}" in fields:
            continue
        text, offset = value.decode("utf-8", "replace")[:MAX_TEXT], start + len(key) + 1
        fields[f"module_{word}"] = Field(f"module_{word}", text, offset, len(value), _SAID[word], MODULE_SOURCE)
        if word == "version" and text:
            versions.append(VersionClaim(text[:64], "kernel module information, version", offset))
    return tuple(fields.values()), tuple(versions)
