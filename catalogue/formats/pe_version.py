"""The VERSIONINFO resource of a PE image, by pefile.

Microsoft PE Format, "The .rsrc Section"; Microsoft, VS_VERSIONINFO and VS_FIXEDFILEINFO (signature FEEF04BDh, file
version at +8 and +0Ch, product version at +10h and +14h).

pefile follows whatever lengths and pointers a file holds, and some files lead it in circles for minutes. It therefore
gets no file but a meter on the view: each look costs, and when the meter has run out it gets no more.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from catalogue.formats.limits import MAX_FIELDS, MAX_TEXT
from catalogue.formats.pe_sections import Section, file_offset
from catalogue.formats.view import View
from catalogue.shapes.reading import Field, VersionClaim

SOURCE = "VS_VERSIONINFO"
RT_VERSION = 16
"""Resource type 16: "Version resource" (Microsoft, Resource Types)."""
SIGNATURE = 0xFEEF04BD
MAX_LOOKS = 3_000
"""Looks that pefile may take at one file; a program with 40 strings needs about 250."""
MAX_LOOK_BYTES = 1 << 16
"""Bytes of one look: a longer one comes back short, as at the end of a file."""
MAX_BYTES = 1 << 20
_UNUSUAL = re.compile(r"[^0-9A-Za-z]")
_MAX_STRINGS = MAX_FIELDS // 4
_MAX_ENTRIES = 4_096
_SUBDIRECTORY = 0x8000_0000
_Found = tuple[tuple[Field, ...], tuple[VersionClaim, ...]]


class _SpentError(BaseException):
    """The meter has run out. A BaseException, so that no handler inside pefile goes on regardless."""


class _Meter:
    """A view as pefile wants its data: sliced, measured, searched. Keeps the OSError that the view raised."""

    def __init__(self, view: View) -> None:
        self._view = view
        self._looks = MAX_LOOKS
        self._bytes = min(MAX_BYTES, MAX_LOOK_BYTES + 32 * view.size)
        self.failed: OSError | None = None

    def __len__(self) -> int:
        return self._view.size

    def __getitem__(self, key: slice) -> bytes:
        start, stop, _ = key.indices(self._view.size)
        length = min(max(0, stop - start), MAX_LOOK_BYTES)
        self._looks -= 1
        self._bytes -= length
        if self._looks < 0 or self._bytes < 0:
            raise _SpentError
        try:
            return self._view.at(start, length)
        except OSError as error:
            self.failed = error
            raise _SpentError from error

    def find(self, what: bytes, start: int, stop: int) -> int:
        found = self[start:stop].find(what)
        return found if found < 0 else found + start


@dataclass(frozen=True, slots=True)
class VersionInfo:
    """What the resource says: fields and claims. `cut` is True where it is too tangled to be read through."""

    fields: tuple[Field, ...] = ()
    versions: tuple[VersionClaim, ...] = ()
    cut: bool = False


def read_version_info(view: View, sections: Sequence[Section], directory: int) -> VersionInfo | None:
    """The VERSIONINFO of the image whose resource directory lies at address `directory`; None where it has none.

    Raises nothing but the view's own OSError.
    """
    entry = _find_entry(view, sections, directory)
    return None if entry is None else _by_pefile(view, entry)


def _find_entry(view: View, sections: Sequence[Section], directory: int) -> int | None:
    """The address of the data entry of the first version resource: type 16, its first name, its first language."""
    start = file_offset(sections, directory)
    if start is None:
        return None
    step = _child(view, start, 0, RT_VERSION)
    for _ in ("name", "language"):
        if step is None or not step & _SUBDIRECTORY:
            break
        step = _child(view, start, step & ~_SUBDIRECTORY, None)
    return None if step is None or step & _SUBDIRECTORY else directory + step


def _child(view: View, start: int, table: int, wanted: int | None) -> int | None:
    """Where the entry called `wanted` (None: the first one) of a resource table points."""
    head = view.at(start + table, 16)
    count = int.from_bytes(head[12:14], "little") + int.from_bytes(head[14:16], "little")
    entries = view.at(start + table + 16, 8 * min(count, _MAX_ENTRIES if wanted is not None else 1))
    for at in range(0, len(entries) - 7, 8):
        if wanted is None or int.from_bytes(entries[at : at + 4], "little") == wanted:
            return int.from_bytes(entries[at + 4 : at + 8], "little")
    return None


def _by_pefile(view: View, entry: int) -> VersionInfo | None:
    import pefile  # 20 ms that only files with a version resource need

    meter = _Meter(view)
    program: Any = None
    cut = False
    try:
        program = pefile.PE(data=meter, fast_load=True)
        data_entry = program.parse_resource_data_entry(entry)
        if data_entry is not None:
            program.parse_version_information(data_entry)
    except (Exception, _SpentError):
        # pefile promises no set of exceptions for damaged input; what it had read until then is kept.
        cut = True
    if meter.failed is not None:
        raise meter.failed
    if program is None:
        return VersionInfo(cut=True)
    fields, versions = _fixed(program)
    more, claims = _strings(program, view.size)
    if not fields and not more:
        return VersionInfo(cut=True) if cut else None
    return VersionInfo((*fields, *more), (*versions, *claims), cut)


def _fixed(program: Any) -> _Found:  # noqa: ANN401 - pefile has no types
    """The two versions of VS_FIXEDFILEINFO, as four numbers each."""
    fields: list[Field] = []
    versions: list[VersionClaim] = []
    for fixed in getattr(program, "VS_FIXEDFILEINFO", ())[:1]:
        if fixed.Signature != SIGNATURE:
            continue
        for name, stem in (("file_version", "FileVersion"), ("product_version", "ProductVersion")):
            high, low = getattr(fixed, stem + "MS"), getattr(fixed, stem + "LS")
            value = f"{high >> 16}.{high & 0xFFFF}.{low >> 16}.{low & 0xFFFF}"
            offset = fixed.get_field_absolute_offset(stem + "MS")
            fields.append(Field(name, value, offset, 8, f"{stem} as four 16-bit numbers", "VS_FIXEDFILEINFO"))
            if high or low:
                versions.append(VersionClaim(value, f"VERSIONINFO {name.replace('_', ' ')}", offset))
    return tuple(fields), tuple(versions)


def _strings(program: Any, size: int) -> _Found:  # noqa: ANN401 - pefile has no types
    """The strings of the first string table that has each: key, value, where the value stands."""
    fields: dict[str, Field] = {}
    versions: list[VersionClaim] = []
    for key, value, place in _string_entries(program):
        name = f"string_{_UNUSUAL.sub('_', key)}"
        if not key or name in fields or len(fields) >= _MAX_STRINGS:
            continue
        offset = place if place is not None and place <= size else None
        # pefile writes what is no letter as an escape, longer than it stands in the file.
        length = 0 if offset is None else min(2 * len(value), size - offset)
        fields[name] = Field(name, value, offset, length, "String of the version resource", "StringFileInfo")
        if value and key in ("FileVersion", "ProductVersion"):
            versions.append(VersionClaim(value, f"VERSIONINFO string {key}", offset))
    return tuple(fields.values()), tuple(versions)


def _string_entries(program: Any) -> Iterable[tuple[str, str, int | None]]:  # noqa: ANN401 - pefile has no types
    for block in getattr(program, "FileInfo", ()):
        for info in block:
            for table in getattr(info, "StringTable", ()):
                for key, value in table.entries.items():
                    places = table.entries_offsets.get(key)
                    yield _text(key)[:64], _text(value), places[1] if places else None


def _text(raw: bytes) -> str:
    return raw.decode("utf-8", "replace").split("\0", 1)[0][:MAX_TEXT]
