"""The entries of one folder of a FAT file system: 8.3 names, long names, deleted ones.

Microsoft FAT32 File System Specification 1.03, "FAT Directory Structure" and "Long File Names".
"""

from __future__ import annotations

from dataclasses import dataclass
from struct import Struct

from catalogue.formats.fat_boot import ENTRY_BYTES

_ENTRY = Struct("<11s3B5H2HL")
"""DIR_Name, DIR_Attr, DIR_NTRes, DIR_CrtTimeTenth, four times, DIR_FstClusHI, ..., DIR_FstClusLO, DIR_FileSize."""
_LABEL, _FOLDER, _LONG = 0x08, 0x10, 0x0F
_FREE, _DELETED, _KANJI = 0x00, 0xE5, 0x05
_LAST = 0x40
_LOWER_BASE, _LOWER_EXTENSION = 0x08, 0x10
"""Bits of DIR_NTRes by which short names are shown in lower case (common practice, no published source)."""
_LOWER = bytes.maketrans(b"ABCDEFGHIJKLMNOPQRSTUVWXYZ", b"abcdefghijklmnopqrstuvwxyz")
_LONGEST = 20
"""Parts of a long name: 255 characters of 13 a part."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A file or folder as listed. `name` is the long name, or the short one as it is shown; `at` its offset."""

    name: str
    short_name: str
    folder: bool
    cluster: int
    size: int
    at: int


@dataclass(slots=True)
class Folder:
    """One folder: its entries, its volume label, how many entries are deleted, long names that fit no entry.

    `closed`: an entry that was never used ends it.
    """

    entries: list[Entry]
    label: str = ""
    label_at: int = 0
    deleted: int = 0
    astray: int = 0
    closed: bool = False


def entries(data: bytes, places: list[tuple[int, int]], wide: bool, most: int) -> Folder:
    """The entries of a folder's bytes, at most `most`; `places` are (offset in the image, length) of its stretches.

    `wide` where the upper half of a cluster's number counts (FAT32).
    """
    found = Folder([])
    at_of = _places(places)
    long: list[bytes] = []
    expected = total = 0
    for at in range(0, len(data) - ENTRY_BYTES + 1, ENTRY_BYTES):
        first = data[at]
        if first == _FREE:
            found.closed = True
            break
        raw = data[at : at + ENTRY_BYTES]
        attributes = raw[11] & 0x3F
        if first == _DELETED:
            found.deleted += 1
        elif attributes == _LONG:
            found.astray += bool(first & _LAST and long)
            if first & _LAST:
                long, expected = [raw], first & 0x3F
                total = expected
            elif expected > 1 and first == expected - 1 and raw[13] == long[0][13]:
                long.append(raw)
                expected -= 1
            else:
                found.astray += 1
                long, expected = [], 0
            continue
        elif attributes & _LABEL:
            if not attributes & _FOLDER and not found.label:
                found.label, found.label_at = raw[:11].decode("cp437").rstrip(" "), at_of(at)
        elif len(found.entries) < most:
            name, upper = _short(raw)
            if long and expected == 1 and 1 <= total <= _LONGEST and long[0][13] == _sum(raw[:11]):
                name = _long(long)
            else:
                found.astray += bool(long)
            if raw[:11].rstrip(b" ") not in (b".", b".."):
                found.entries.append(_entry(raw, name, upper, wide, at_of(at)))
        long, expected = [], 0
    found.astray += bool(long)
    return found


def _entry(raw: bytes, name: str, short: str, wide: bool, at: int) -> Entry:
    _, attributes, _, _, _, _, _, high, _, _, low, size = _ENTRY.unpack(raw)
    return Entry(name, short, bool(attributes & _FOLDER), (high << 16 if wide else 0) | low, size, at)


def _short(raw: bytes) -> tuple[str, str]:
    """The 8.3 name as it is shown, and as it stands."""
    base, extension, lower = raw[:8], raw[8:11], raw[12]
    if base[0] == _KANJI:
        base = bytes((_DELETED,)) + base[1:]
    base, extension = base.rstrip(b" "), extension.rstrip(b" ")
    upper = _dotted(base, extension)
    if lower & _LOWER_BASE:
        base = base.translate(_LOWER)
    if lower & _LOWER_EXTENSION:
        extension = extension.translate(_LOWER)
    return _dotted(base, extension), upper


def _dotted(base: bytes, extension: bytes) -> str:
    """Code page 437 gives every byte a character, so nothing is lost whatever page was meant."""
    return (base + b"." + extension if extension else base).decode("cp437")


def _long(parts: list[bytes]) -> str:
    """The long name of its parts, the last first; what stands behind its closing zero is padding."""
    raw = b"".join(part[1:11] + part[14:26] + part[28:32] for part in reversed(parts))
    for at in range(0, len(raw), 2):
        if raw[at : at + 2] == b"\0\0":
            raw = raw[:at]
            break
    return raw.decode("utf-16-le", "surrogatepass")


def _sum(short: bytes) -> int:
    """ChkSum() of the specification."""
    total = 0
    for byte in short:
        total = ((total & 1) << 7) + (total >> 1) + byte & 0xFF
    return total


class _places:  # noqa: N801 (stands for a function)
    """Where in the image a byte of a folder lies."""

    def __init__(self, places: list[tuple[int, int]]) -> None:
        self._places = places
        self._index, self._before = 0, 0

    def __call__(self, at: int) -> int:
        while self._index < len(self._places) - 1 and at >= self._before + self._places[self._index][1]:
            self._before += self._places[self._index][1]
            self._index += 1
        return self._places[self._index][0] + at - self._before if self._places else at
