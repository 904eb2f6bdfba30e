"""A card's IDs from a hex dump of its PCI configuration space, however the dump spells its rows.

Offsets of the header: PCI Local Bus Specification 3.0, section 6.1, figure 6-1 (the fields), and 6.2.4 (subsystem).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

VENDOR, DEVICE, COMMAND, STATUS, REVISION, CLASS, HEADER_TYPE = 0x00, 0x02, 0x04, 0x06, 0x08, 0x09, 0x0E
SUBSYSTEM_VENDOR, SUBSYSTEM = 0x2C, 0x2E
_SIZE = 0x1000
"""Bytes of configuration space (PCI Express; 256 before)."""
_LEAST = 16
"""Bytes of a dump without offsets; shorter rows of hex digits may mean anything."""

_OFFSET = re.compile(r"[ \t]*(?:0x)?([0-9A-Fa-f]{2,8})(h?[ \t]*[:|][ \t]+|h?[ \t]+)")
_GROUP = re.compile(r"([ \t,;-]*)(?:0x)?([0-9A-Fa-f]{2,8})(?=[ \t,;-]|$)")
_EVEN = re.compile(
    r"[ \t,;-]?(?:"
    + "|".join(rf"[0-9A-Fa-f]{{{width}}}(?:[ \t,;-][0-9A-Fa-f]{{{width}}})*+" for width in (2, 4, 8))
    + ")"
)
"""Groups of one width with one sign between them, as most rows have: taken apart at once."""
_DIGITS = re.compile(r"[0-9A-Fa-f]+")
_PLAIN = re.compile(r"[ \t]*(?:0x)?((?:[0-9A-Fa-f]{2}){16,})[ \t]*")
_OCTAL = re.compile(r"[0-7]{7}")
_ROW_BYTES = 16


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a dump: its offset as written ("" where it has none), its groups of hex digits, all of one width, and
    whether a colon stood behind the offset."""

    offset: str
    groups: tuple[str, ...]
    colon: bool = False

    @property
    def length(self) -> int:
        """How many bytes the row shows."""
        return len(self.groups) * len(self.groups[0]) // 2


def rows_of(line: str) -> tuple[Row, ...]:
    """The ways in which a line can be a row of a dump, likelier ones first; none where it is no row.

    A first group as wide as the others may be an offset or not: rows have a multiple of four groups.
    """
    plain = _PLAIN.fullmatch(line)
    if plain:
        return (Row("", (plain.group(1),)),)
    bare = _groups(line)
    found = _OFFSET.match(line)
    if not found:
        return (Row("", bare),) if bare else ()
    behind = _groups(line[found.end() :])
    offset, colon = found.group(1), ":" in found.group(2)
    if not behind or len(behind) * len(behind[0]) < 8:
        return (Row("", bare),) if bare else ()
    numbered = Row(offset, behind, colon)
    if not bare or colon or "|" in found.group(2):
        return (numbered,)
    return (Row("", bare), numbered) if len(bare) % 4 == 0 else (numbered, Row("", bare))


def _groups(text: str) -> tuple[str, ...]:
    """The groups of hex digits of a row, all bytes, all words or all double words, without an ASCII column behind.

    Such a column stands behind a bar or star, or behind two blanks. Empty where anything else stands there.
    """
    text = re.split(r"[|*]", text, maxsplit=1)[0].rstrip(" \t,;-")
    if _EVEN.fullmatch(text):
        return tuple(_DIGITS.findall(text))
    out: list[str] = []
    at = width = 0
    while found := _GROUP.match(text, at):
        gap, digits = found.groups()
        if len(digits) != width:
            if out:
                break
            width = len(digits)
        elif "  " in gap and len(out) * width == 2 * _ROW_BYTES:
            break
        out.append(digits)
        at = found.end()
    behind = text[at:]
    if not out or len(out[0]) not in {2, 4, 8} or (behind and not behind.startswith("  ")):
        return ()
    return tuple(out)


class Dump:
    """The rows of one dump, gathered in order, with the offset of each."""

    def __init__(self) -> None:
        self.rows: list[tuple[int, Row]] = []
        self.length = 0

    def add(self, ways: tuple[Row, ...]) -> bool:
        """Take a line that can be a row in these ways; False where it does not go on with this dump.

        A dump begins at offset 0, or goes without offsets; an offset that lies behind what is there begins another.
        """
        for row in ways:
            if self.rows and bool(row.offset) != bool(self.rows[0][1].offset):
                continue
            if self.rows and not row.offset and row.length > self.rows[0][1].length:
                continue
            at = self._offset(row)
            if (at if not self.rows else at < self.length) or at >= _SIZE:
                continue
            self.rows.append((at, row))
            self.length = at + row.length
            return True
        return False

    def _offset(self, row: Row) -> int:
        """A row's offset: hex, but octal where only that goes on without a gap (od counts so)."""
        if not row.offset:
            return self.length
        if _OCTAL.fullmatch(row.offset) and int(row.offset, 8) == self.length:
            return self.length
        return int(row.offset, 16)

    def content(self) -> bytes | None:
        """The dump's bytes from 0 on, up to the first gap; None where they cannot be a configuration space.

        Words and double words stand in two orders: as in memory (behind a colon, as xxd prints them) or as values (as
        hexdump and od do). Where the order that the spelling suggests makes no sense as a header, the other is taken.
        """
        first = self.rows[0][1]
        if not first.offset and self.length < _LEAST:
            return None
        paired = len(first.groups[0]) in {4, 8}
        suggested = paired and not first.colon
        for as_values in (suggested, not suggested) if paired else (False,):
            data = self._joined(as_values)
            if plausible(data):
                return data
        return None

    def _joined(self, as_values: bool) -> bytes:
        out = bytearray()
        for at, row in self.rows:
            if at != len(out):
                break
            if as_values:
                for group in row.groups:
                    out += bytes.fromhex(group)[::-1]
            else:
                out += bytes.fromhex("".join(row.groups))
        return bytes(out[:_SIZE])


def word(data: bytes, at: int) -> int:
    """The little-endian word at an offset."""
    return int.from_bytes(data[at : at + 2], "little")


def plausible(data: bytes) -> bool:
    """Whether bytes can begin a configuration space: a vendor, and no bit set that the specification holds at 0.

    Command bits 11-15 and status bits 0-2 are reserved (6.2.2, 6.2.3), header types are 0, 1 and 2 (6.2.1).
    """
    if len(data) < 4 or word(data, VENDOR) in {0, 0xFFFF}:
        return False
    if len(data) >= COMMAND + 4 and (word(data, COMMAND) & 0xF800 or word(data, STATUS) & 0x0007):
        return False
    return len(data) <= HEADER_TYPE or data[HEADER_TYPE] & 0x7F <= 2


def class_of(data: bytes) -> int | None:
    """The class code, 24 bits, or None where the dump ends before it."""
    return int.from_bytes(data[CLASS : CLASS + 3], "little") if len(data) >= CLASS + 3 else None


def subsystem_of(data: bytes) -> tuple[int, int] | None:
    """Subsystem vendor and subsystem of a header of type 0; None where it has none or the dump ends before it."""
    if len(data) < SUBSYSTEM + 2 or data[HEADER_TYPE] & 0x7F:
        return None
    found = word(data, SUBSYSTEM_VENDOR), word(data, SUBSYSTEM)
    return None if found in {(0, 0), (0xFFFF, 0xFFFF)} else found
