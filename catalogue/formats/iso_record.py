"""Directory records of ISO 9660, and what Rock Ridge adds to them.

ECMA-119, 9.1 (directory record). System Use Sharing Protocol 1.12 (SUSP), clause 5; Rock Ridge Interchange Protocol
1.12 (RRIP), clause 4.1.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from catalogue.formats.disk_files import DEVICE, LINK
from catalogue.formats.limits import MAX_CONTINUATIONS
from catalogue.formats.view import View

_HEAD = 33
HIDDEN, FOLDER, ASSOCIATED, MORE = 0x01, 0x02, 0x04, 0x80
"""9.1.6 file flags."""
SELF, PARENT = b"\0", b"\1"
"""9.1.11: identifiers of a folder's own record and of its parent's."""
_SECTOR = 2_048
_TYPE, _LINK, _FILE, _FOLDER_MODE = 0o170000, 0o120000, 0o100000, 0o040000


@dataclass(frozen=True, slots=True)
class Record:
    """One directory record. `start` is in blocks, behind the extended attributes; `at` its offset in the image."""

    at: int
    start: int
    length: int
    flags: int
    interleaved: bool
    agrees: bool
    name: bytes
    system_use: bytes


@dataclass(slots=True)
class Added:
    """What Rock Ridge says of an entry: `name` is None where it says none, `child` the block of a folder that was moved
    elsewhere for the depth's sake, `moved` whether this entry is such a folder where it now lies."""

    name: bytes | None = None
    fault: str = ""
    child: int | None = None
    moved: bool = False


def records(data: bytes, base: int) -> Iterator[Record]:
    """The records of a folder's bytes, which begin at `base`. One never crosses a sector's end (6.8.1.1)."""
    at = 0
    while at < len(data):
        size = data[at]
        if size == 0:
            at = (at // _SECTOR + 1) * _SECTOR
            continue
        raw = data[at : at + size]
        if len(raw) < _HEAD + 1 or len(raw) < size or _HEAD + raw[32] > size:
            yield Record(base + at, 0, 0, 0, interleaved=False, agrees=False, name=b"", system_use=b"")
            at = (at // _SECTOR + 1) * _SECTOR
            continue
        stop = _HEAD + raw[32]
        yield Record(
            at=base + at,
            start=int.from_bytes(raw[2:6], "little") + raw[1],
            length=int.from_bytes(raw[10:14], "little"),
            flags=raw[25],
            interleaved=bool(raw[26] or raw[27]),
            agrees=raw[2:6] == raw[9:5:-1] and raw[10:14] == raw[17:13:-1],
            name=raw[_HEAD:stop],
            system_use=raw[stop + (1 - raw[32] % 2) :],
        )
        at += size


def skip_of(first: Record) -> int | None:
    """Bytes to pass over in every system use field, as the root's own record says (SUSP 5.3); None without SUSP."""
    for at in (0, 14):
        entry = first.system_use[at : at + 7]
        if entry[:2] == b"SP" and len(entry) == 7 and entry[2] == 7 and entry[4:6] == b"\xbe\xef":
            return entry[6]
    return None


def added(view: View, one: Record, skip: int, block: int) -> Added:
    """What Rock Ridge says of the entry, its continuation areas followed (SUSP 5.1), bounded."""
    made = Added()
    name: list[bytes] = []
    area = one.system_use[skip:]
    for _ in range(MAX_CONTINUATIONS):
        following: bytes | None = None
        for sign, body in _entries(area):
            if sign == b"NM" and body:
                # RRIP 4.1.4: bits 1 and 2 stand for the folder itself and its parent.
                if not body[0] & 6:
                    name.append(body[1:])
            elif sign == b"PX" and len(body) >= 8:
                made.fault = _mode_fault(int.from_bytes(body[:4], "little"))
            elif sign == b"SL":
                made.fault = LINK
            elif sign == b"CL" and len(body) >= 8:
                made.child = int.from_bytes(body[:4], "little")
            elif sign == b"RE":
                made.moved = True
            elif sign == b"ZF":
                made.fault = "is packed by zisofs, which is not read"
            elif sign == b"SF":
                made.fault = "is a sparse file, which is not read"
            elif sign == b"CE" and len(body) >= 24:
                where, offset, length = (int.from_bytes(body[n : n + 4], "little") for n in (0, 8, 16))
                following = view.at(where * block + offset, min(length, block))
        if following is None:
            break
        area = following
    else:
        made.fault = made.fault or "has more continued system use fields than are read"
    made.name = b"".join(name) or None
    return made


def _entries(area: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = 0
    while at + 4 <= len(area) and area[at + 2] >= 4:
        sign, size = area[at : at + 2], area[at + 2]
        if sign == b"ST":
            return
        yield sign, area[at + 4 : at + size]
        at += size


def _mode_fault(mode: int) -> str:
    kind = mode & _TYPE
    if kind == _LINK:
        return LINK
    return "" if kind in (0, _FILE, _FOLDER_MODE) else DEVICE
