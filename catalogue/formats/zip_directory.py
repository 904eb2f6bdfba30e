"""The directory of a zip archive, read for what it says and for where it contradicts itself. Nothing is unpacked.

PKWARE APPNOTE.TXT 6.3: 4.3.7 local file header, 4.3.12 central directory header, 4.3.14 and 4.3.15 ZIP64 end records,
4.3.16 end of central directory record, 4.4.4 general purpose flags, 4.5.3 ZIP64 extra field.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from struct import Struct

from catalogue.formats.limits import MAX_DIRECTORY_BYTES, MAX_MEMBERS
from catalogue.formats.view import View

LOCAL = b"PK\x03\x04"
CENTRAL = b"PK\x01\x02"
END = b"PK\x05\x06"
END64 = b"PK\x06\x06"
LOCATOR64 = b"PK\x06\x07"
END_BYTES = 22
MAX_TAIL = END_BYTES + 0xFFFF
"""The end record with the longest comment it can have."""
_LOCATOR_BYTES, _END64_BYTES, _CENTRAL_BYTES, _LOCAL_BYTES = 20, 56, 46, 30
_END = Struct("<4s4H2LH")
_END64 = Struct("<4sQ2H2L4Q")
_CENTRAL = Struct("<4s6H3L5H2L")
_LOCAL = Struct("<4s5H3L2H")
_ENCRYPTED, _DESCRIPTOR, _STRONG, _UTF8, _MASKED = 0x0001, 0x0008, 0x0040, 0x0800, 0x2000
METHODS = {0: "stored", 8: "deflated", 12: "BZIP2", 14: "LZMA"}
"""4.4.5 compression methods that can be unpacked here."""
_UNIX = 3
_FILE_TYPE, _LINK, _PLAIN_TYPES = 0o170000, 0o120000, (0, 0o100000, 0o040000)
_TRIES = 16
"""End records that are tried: the comment may hold the four bytes too."""
_NONE = 0xFFFF_FFFF
_TWICE = "stands in the directory more than once"
_OTHER_NAME = "has another name in its own header"
_OTHER_SIZES = "has other sizes or another CRC in its own header"
_LEAVE_BYTES = frozenset((_TWICE, _OTHER_NAME, _OTHER_SIZES))


@dataclass(frozen=True, slots=True)
class Entry:
    """One member as the central directory lists it.

    `name` is `raw_name` as UTF-8 where its flag says so (other bytes as surrogate escapes, as `os.fsdecode` does), else
    as code page 437, which gives every byte a character: both are lossless. `header_offset`, `data_offset` and
    `listed_at` (its line in the directory) are absolute in the view; `data_offset` is None where there is no local
    header. `fault` says in one sentence why the member must not be used, "" where nothing speaks against it; `unsafe`
    likewise what is wrong with its name.
    `shares`: other members lay claim to some of its bytes.
    """

    name: str
    raw_name: bytes
    method: int
    flags: int
    crc32: int
    packed_size: int
    size: int
    header_offset: int
    data_offset: int | None
    folder: bool
    listed_at: int
    fault: str = ""
    unsafe: str = ""
    shares: bool = False

    @property
    def fault_leaves_bytes(self) -> bool:
        """Whether the bytes can still be had, bounded by what the directory says, although there is a fault."""
        return self.fault in _LEAVE_BYTES and not self.shares

    @property
    def encrypted(self) -> bool:
        """Whether a password is needed (4.4.4, bits 0, 6 and 13)."""
        return bool(self.flags & (_ENCRYPTED | _STRONG | _MASKED))


@dataclass(frozen=True, slots=True)
class Directory:
    """A whole directory. `start` is where the archive begins: bytes before it belong to something else.

    `directory_offset`, `end_offset` (of the end record) and `end` (behind its comment) are absolute in the view.
    `faults` are what is wrong with the archive as a whole.
    """

    start: int
    directory_offset: int
    end_offset: int
    end: int
    zip64: bool
    comment: bytes
    entries: tuple[Entry, ...]
    faults: tuple[str, ...] = ()


def find_end(view: View) -> int | None:
    """Where the end record stands; None where there is none. Cheap where the archive has no comment."""
    last = view.size - END_BYTES
    record = view.at(last, END_BYTES)
    if record[:4] == END and record[20:] == b"\0\0":
        return last
    start = max(0, view.size - MAX_TAIL)
    tail = view.at(start, MAX_TAIL)
    close: int | None = None
    at = len(tail) - END_BYTES + 4
    for _ in range(_TRIES):
        at = tail.rfind(END, 0, max(0, at))
        if at < 0:
            break
        stop = at + END_BYTES + int.from_bytes(tail[at + 20 : at + 22], "little")
        if stop == len(tail):
            return start + at
        if close is None and stop < len(tail):
            close = start + at
        at += 3
    return close


def directory(view: View) -> Directory | None:
    """The directory of the archive that ends `view`, whatever stands before it; None where there is no end record.

    Bounded by MAX_MEMBERS and MAX_DIRECTORY_BYTES. Raises nothing but the view's own OSError.
    """
    end_offset = find_end(view)
    if end_offset is None:
        return None
    record = view.at(end_offset, END_BYTES)
    _, disk, first_disk, here, total, size, offset, comment_length = _END.unpack(record)
    faults: list[str] = []
    behind, zip64 = end_offset, _end64(view, end_offset)
    if zip64 is not None:
        behind, (disk, first_disk, here, total, size, offset) = zip64
    if disk or first_disk or here != total:
        faults.append("It is one volume of a split archive; the others are missing.")
    start = behind - size - offset
    at = behind - size
    if start < 0 or (size and view.at(at, 4) != CENTRAL):
        faults.append("Its end record gives a directory that is not where it says.")
        start, at = 0, min(offset, behind)
    raw = view.at(at, min(size, behind - at, MAX_DIRECTORY_BYTES))
    entries, whole = _entries(raw, at, start)
    if size > MAX_DIRECTORY_BYTES or (len(entries) == MAX_MEMBERS and not whole):
        faults.append(f"It lists more than can be read: {len(entries)} members are shown.")
    elif not whole or len(entries) != total:
        faults.append(f"Its end record counts {total} members, its directory lists {len(entries)}.")
    checked = _together([_against_local(view, one, at) for one in entries])
    stop = end_offset + END_BYTES + comment_length
    return Directory(
        start=start,
        directory_offset=at,
        end_offset=end_offset,
        end=min(stop, view.size),
        zip64=zip64 is not None,
        comment=view.at(end_offset + END_BYTES, comment_length),
        entries=checked,
        faults=tuple(faults),
    )


def unsafe_name(name: str) -> str:
    """What makes a member's name one that must never be used as a path; "" where nothing does."""
    if not name:
        return "has no name"
    if any(sign < " " for sign in name):
        return "has control characters in its name"
    if name[0] in "/\\":
        return "has an absolute path"
    if len(name) > 1 and name[1] == ":":
        return "names a drive"
    if ".." in name.replace("\\", "/").split("/"):
        return "climbs out of its folder"
    return ""


def _end64(view: View, end_offset: int) -> tuple[int, tuple[int, int, int, int, int, int]] | None:
    """The ZIP64 end record, where its locator stands before the end record: its offset, and its counts."""
    locator = view.at(end_offset - _LOCATOR_BYTES, _LOCATOR_BYTES)
    if locator[:4] != LOCATOR64:
        return None
    # Behind a program the locator's offset is too low by the program's length; the record then stands right before it.
    for at in (int.from_bytes(locator[8:16], "little"), end_offset - _LOCATOR_BYTES - _END64_BYTES):
        record = view.at(at, _END64_BYTES)
        if at < end_offset and len(record) == _END64_BYTES and record[:4] == END64:
            disk, first_disk, here, total, size, offset = _END64.unpack(record)[4:]
            return at, (disk, first_disk, here, total, size, offset)
    return None


def _entries(raw: bytes, base: int, start: int) -> tuple[list[Entry], bool]:
    """The entries of the central directory that stands at `base`, and whether it was read to its end."""
    entries: list[Entry] = []
    at = 0
    while at < len(raw) and len(entries) < MAX_MEMBERS:
        if len(raw) - at < _CENTRAL_BYTES or raw[at : at + 4] != CENTRAL:
            return entries, False
        head = _CENTRAL.unpack_from(raw, at)
        _, made_by, _, flags, method, _, _, crc32, packed, size, names, extras, comments, disk, _, outer, offset = head
        text = raw[at + _CENTRAL_BYTES : at + _CENTRAL_BYTES + names]
        extra = raw[at + _CENTRAL_BYTES + names : at + _CENTRAL_BYTES + names + extras]
        size, packed, offset = _wide(extra, size, packed, offset)
        name = text.decode("utf-8", "surrogateescape") if flags & _UTF8 else text.decode("cp437")
        folder = name.endswith("/") or (name.endswith("\\") and size == 0)
        entry = Entry(
            name,
            text,
            method,
            flags,
            crc32,
            packed,
            size,
            start + offset,
            None,
            folder,
            base + at,
            unsafe=unsafe_name(name),
        )
        entries.append(replace(entry, fault=_own_fault(entry, made_by >> 8, outer >> 16, disk)))
        at += _CENTRAL_BYTES + names + extras + comments
    return entries, at == len(raw)


def _own_fault(entry: Entry, host: int, mode: int, disk: int) -> str:
    if entry.encrypted:
        return "is encrypted"
    if disk not in (0, 0xFFFF):
        return f"begins on volume {disk + 1}, which is missing"
    if host == _UNIX and mode & _FILE_TYPE == _LINK:
        return "is a link, which is not followed"
    if host == _UNIX and mode & _FILE_TYPE not in _PLAIN_TYPES:
        return "is a device or a pipe"
    if entry.method not in METHODS:
        return f"is packed by method {entry.method}, which is not read"
    if entry.method == 0 and entry.size != entry.packed_size:
        return "is stored, but its two sizes differ"
    return ""


def _wide(extra: bytes, size: int, packed: int, offset: int) -> tuple[int, int, int]:
    """Sizes and offset with those replaced that stand in the ZIP64 extra field (4.5.3), in this order."""
    numbers = _extra(extra, 1)
    values = [size, packed, offset]
    for index, value in enumerate(values):
        if value == _NONE and len(numbers) >= 8:
            values[index] = int.from_bytes(numbers[:8], "little")
            numbers = numbers[8:]
    return values[0], values[1], values[2]


def _extra(extra: bytes, wanted: int) -> bytes:
    """The body of the extra field with this header ID, b"" where it is absent (4.5.1)."""
    at = 0
    while at + 4 <= len(extra):
        length = int.from_bytes(extra[at + 2 : at + 4], "little")
        if int.from_bytes(extra[at : at + 2], "little") == wanted:
            return extra[at + 4 : at + 4 + length]
        at += 4 + length
    return b""


def _against_local(view: View, entry: Entry, directory_offset: int) -> Entry:
    """The entry with its data's offset, and with a fault where its local header tells another story."""
    raw = view.at(entry.header_offset, _LOCAL_BYTES)
    if len(raw) < _LOCAL_BYTES or raw[:4] != LOCAL:
        return replace(entry, fault=entry.fault or "has no header where the directory points")
    _, _, flags, method, _, _, crc32, packed, size, names, extras = _LOCAL.unpack(raw)
    data_offset = entry.header_offset + _LOCAL_BYTES + names + extras
    rest = view.at(entry.header_offset + _LOCAL_BYTES, names + extras)
    size, packed, _ = _wide(rest[names:], size, packed, 0)
    told = (crc32, packed, size)
    listed = (entry.crc32, entry.packed_size, entry.size)
    fault = ""
    if rest[:names] != entry.raw_name:
        fault = _OTHER_NAME
    elif method != entry.method or (flags ^ entry.flags) & (_ENCRYPTED | _STRONG):
        fault = "is packed otherwise by its own header"
    elif told != listed and not (flags & _DESCRIPTOR and all(a in (0, b) for a, b in zip(told, listed, strict=True))):
        fault = _OTHER_SIZES
    elif data_offset + entry.packed_size > directory_offset:
        fault = "runs past the end of the archive's data"
    return replace(entry, data_offset=data_offset, fault=entry.fault or fault)


def _together(entries: list[Entry]) -> tuple[Entry, ...]:
    """The entries with faults for those that share a name or share bytes."""
    seen: dict[bytes, int] = {}
    for one in entries:
        seen[one.raw_name] = seen.get(one.raw_name, 0) + 1
    shared: set[int] = set()
    stop, holder = -1, -1
    for index in sorted(range(len(entries)), key=lambda index: entries[index].header_offset):
        one = entries[index]
        if one.header_offset < stop:
            shared |= {holder, index}
        if one.data_offset is not None and one.data_offset + one.packed_size > stop:
            stop, holder = one.data_offset + one.packed_size, index
    answer = list(entries)
    for index in shared:
        answer[index] = replace(entries[index], shares=True)
    for index, one in enumerate(answer):
        if one.fault:
            continue
        if seen[one.raw_name] > 1:
            answer[index] = replace(one, fault=_TWICE)
        elif index in shared:
            answer[index] = replace(one, fault="shares its bytes with another member")
    return tuple(answer)
