"""The volume of a UDF image: its anchor, partitions and root folder.

ECMA-167 (3rd edition, 1997): 2/9 volume recognition, 3/7.2 descriptor tag, 3/10 volume descriptors, 4/14.1 file set.
OSTA Universal Disk Format 2.60, 2.2.8 to 2.2.10 (partition maps), 2.2.12 (sparing table).
"""

from __future__ import annotations

from binascii import crc_hqx
from dataclasses import dataclass, field

from catalogue.formats.disk_files import Extent
from catalogue.formats.limits import MAX_DESCRIPTORS
from catalogue.formats.view import View

RECOGNITION_AT = 32 << 10
_SLOTS = 32
_SLOT = 2_048
_NSR = (b"NSR02", b"NSR03")
_KNOWN = (*_NSR, b"BEA01", b"TEA01", b"BOOT2", b"CD001", b"CDW02")
SECTORS = (2_048, 512, 4_096, 1_024)
_ANCHOR_SECTOR = 256
TAG = 16
_PRIMARY, _ANCHOR, _POINTER, _PARTITION, _LOGICAL, _TERMINATOR, _FILE_SET = 1, 2, 3, 5, 6, 8, 256
_VIRTUAL, _SPARABLE, _METADATA = b"*UDF Virtual Partition", b"*UDF Sparable Partition", b"*UDF Metadata Partition"
_SPARING = b"*UDF Sparing Table"
_MOST_SPARED = 4_096
LENGTH = 0x3FFF_FFFF
"""The bits of an extent's length that count bytes; the two above them are its type (4/14.14.1.1)."""


class UdfUnread(Exception):
    """A UDF volume cannot be read; the text is the reason, a whole sentence. `damaged`: it is at fault, not we."""

    def __init__(self, text: str, *, damaged: bool = True) -> None:
        super().__init__(text)
        self.damaged = damaged


@dataclass(slots=True)
class Partition:
    """One partition map: `offset` and `length` in bytes of the image. `spared` leads from a packet's first block to the
    offset where it lies now; `pieces` are the extents of a metadata file, whose bytes the blocks then count."""

    offset: int
    length: int
    block: int
    packet: int = 0
    spared: dict[int, int] = field(default_factory=dict)
    pieces: tuple[Extent, ...] | None = None

    def locate(self, block: int, length: int) -> list[Extent] | None:
        """Where `length` bytes from a block on lie; None where they leave the partition."""
        start = block * self.block
        if self.pieces is not None:
            return self._in_pieces(start, length)
        if start + length > self.length:
            return None
        if not self.spared:
            return [(self.offset + start, length)]
        found: list[Extent] = []
        while length > 0:
            packet, within = divmod(start, self.packet)
            most = min(length, self.packet - within)
            base = self.spared.get(packet * self.packet // self.block)
            found.append((self.offset + start if base is None else base + within, most))
            start, length = start + most, length - most
        return found

    def _in_pieces(self, start: int, length: int) -> list[Extent] | None:
        found: list[Extent] = []
        for offset, size in self.pieces or ():
            if start < size and length > 0:
                most = min(length, size - start)
                found.append((offset + start, most))
                length, start = length - most, 0
            elif start >= size:
                start -= size
        return None if length else found


@dataclass(slots=True)
class Udf:
    """A volume that can be read. `root` is (partition, block, length) of the root folder's file entry."""

    sector: int
    block: int
    revision: int
    name: str
    partitions: list[Partition]
    root: tuple[int, int, int]
    logical_at: int
    end: int
    odd: list[tuple[str, int]] = field(default_factory=list)


def is_udf(view: View) -> bool:
    """Whether a volume recognition sequence says that ECMA-167 descriptors follow (2/8.3, 3/9.1)."""
    area = view.at(RECOGNITION_AT, _SLOTS * _SLOT)
    begun = False
    for at in range(0, len(area), _SLOT):
        name = area[at + 1 : at + 6]
        if name and not any(name):
            continue
        if name not in _KNOWN:
            return False
        begun = begun or name == b"BEA01"
        if begun and name in _NSR:
            return True
    return False


def tagged(view: View, at: int, kind: int, most: int) -> bytes | None:
    """The descriptor at `at` where its tag is of this kind and sound, sum and CRC (3/7.2); None otherwise."""
    raw = view.at(at, most)
    if len(raw) < TAG or int.from_bytes(raw[:2], "little") != kind:
        return None
    if (sum(raw[:TAG]) - raw[4]) & 0xFF != raw[4]:
        return None
    length = int.from_bytes(raw[10:12], "little")
    body = raw[TAG : TAG + length]
    if len(body) < length:
        body = view.at(at + TAG, length)
    return raw if len(body) == length and crc_hqx(body, 0) == int.from_bytes(raw[8:10], "little") else None


def dstring(raw: bytes) -> str:
    """A text in OSTA compressed Unicode whose last byte is its length (UDF 2.60, 2.1.3)."""
    return text(raw[: min(raw[-1], len(raw) - 1)]) if raw else ""


def text(raw: bytes) -> str:
    """OSTA compressed Unicode (UDF 2.60, 2.1.1); bytes of no known kind as surrogate escapes."""
    if raw[:1] in (b"\x08", b"\xfe"):
        return raw[1:].decode("latin-1")
    if raw[:1] in (b"\x10", b"\xff"):
        even = len(raw) - (len(raw) - 1) % 2
        return raw[1:even].decode("utf-16-be", "surrogatepass") + raw[even:].decode("ascii", "surrogateescape")
    return raw.decode("ascii", "surrogateescape")


def udf_volume(view: View) -> Udf:
    """The volume in `view`. Raises UdfUnread, and the view's OSError."""
    sector, anchor = _anchor(view)
    odd: list[tuple[str, int]] = []
    for index, at in enumerate((16, 24)):
        length, location = _numbers(anchor, at, 4, 4)
        logical, parts = _sequence(view, location * sector, length, sector)
        if logical is not None and parts:
            if index:
                odd.append(("Its first volume descriptor sequence is damaged; the second one was read.", 0))
            return _logical(view, sector, logical, parts, odd)
    raise UdfUnread("Its volume descriptors are damaged or missing.")


def _numbers(raw: bytes, at: int, *widths: int) -> tuple[int, ...]:
    made = []
    for width in widths:
        made.append(int.from_bytes(raw[at : at + width], "little"))
        at += width
    return tuple(made)


def _anchor(view: View) -> tuple[int, bytes]:
    """The sector size and the anchor, which stands in two of three places (3/8.4.2.1)."""
    for sector in SECTORS:
        last = view.size // sector - 1
        for number in (_ANCHOR_SECTOR, last - _ANCHOR_SECTOR, last):
            raw = tagged(view, number * sector, _ANCHOR, 512) if number > 0 else None
            if raw is not None and _numbers(raw, 12, 4)[0] == number:
                return sector, raw
    raise UdfUnread("Its anchor is missing: it is cut short or damaged.")


def _sequence(
    view: View, at: int, length: int, sector: int
) -> tuple[tuple[int, bytes] | None, dict[int, tuple[int, bytes]]]:
    """The prevailing logical volume descriptor, and the partition descriptors by number (3/8.4.2)."""
    logical: tuple[int, bytes] | None = None
    parts: dict[int, tuple[int, bytes]] = {}
    end = at + length
    for _ in range(MAX_DESCRIPTORS):
        if at >= end:
            break
        kind = int.from_bytes(view.at(at, 2), "little")
        raw = tagged(view, at, kind, max(sector, 2_048))
        if raw is None or kind == _TERMINATOR:
            break
        number = _numbers(raw, 16, 4)[0]
        if kind == _POINTER:
            size, location = _numbers(raw, 20, 4, 4)
            at, end = location * sector, location * sector + size
            continue
        if kind == _LOGICAL and (logical is None or number >= _numbers(logical[1], 16, 4)[0]):
            logical = (at, raw)
        elif kind == _PARTITION:
            which = _numbers(raw, 22, 2)[0]
            if which not in parts or number >= _numbers(parts[which][1], 16, 4)[0]:
                parts[which] = (at, raw)
        at += sector
    return logical, parts


def _logical(
    view: View, sector: int, logical: tuple[int, bytes], parts: dict[int, tuple[int, bytes]], odd: list[tuple[str, int]]
) -> Udf:
    at, raw = logical
    block = _numbers(raw, 212, 4)[0]
    if block not in SECTORS:
        raise UdfUnread(f"Its logical blocks have {block} bytes.")
    if not raw[217:].startswith(b"*OSTA UDF Compliant"):
        raise UdfUnread("Its logical volume is of another domain than OSTA's.", damaged=False)
    revision = _numbers(raw, 240, 2)[0]
    physical = {
        number: Partition(_numbers(one, 188, 4)[0] * sector, _numbers(one, 192, 4)[0] * sector, block)
        for number, (_, one) in parts.items()
    }
    maps = _maps(view, raw, physical, sector)
    length, where, reference = _numbers(raw, 248, 4, 4, 2)
    made = Udf(sector, block, revision, dstring(raw[84:212]), maps, (0, 0, 0), at, 0, odd)
    made.end = max((one.offset + one.length for one in physical.values()), default=0)
    if reference >= len(maps):
        raise UdfUnread("Its file set lies in a partition that is not there.")
    found = maps[reference].locate(where, min(length & LENGTH, 512) or 512)
    files = tagged(view, found[0][0], _FILE_SET, 512) if found else None
    if files is None:
        raise UdfUnread("The descriptor of its file set is damaged or missing.")
    size, first, partition = _numbers(files, 400, 4, 4, 2)
    made.root = (partition, first, size & LENGTH)
    return made


def _maps(view: View, raw: bytes, physical: dict[int, Partition], sector: int) -> list[Partition]:
    """The partition maps in their order (3/10.7; UDF 2.60, 2.2.8 to 2.2.10)."""
    count = _numbers(raw, 268, 4)[0]
    if count > 8:
        raise UdfUnread(f"It has {count} partition maps.")
    made: list[Partition] = []
    metadata: list[tuple[int, bytes]] = []
    at = 440
    for _ in range(count):
        kind, length = raw[at : at + 1], _numbers(raw, at + 1, 1)[0]
        one = raw[at : at + length]
        at += length
        number = _numbers(one, 4 if kind == b"\1" else 38, 2)[0]
        name = one[5:28].rstrip(b"\0")
        if number not in physical:
            raise UdfUnread(f"Its partition {number} is not described.")
        if kind == b"\1":
            made.append(physical[number])
        elif kind == b"\2" and name == _SPARABLE:
            made.append(_spared(view, physical[number], one, sector))
        elif kind == b"\2" and name == _METADATA:
            metadata.append((len(made), one))
            made.append(physical[number])
        elif kind == b"\2" and name == _VIRTUAL:
            raise UdfUnread(
                "It was written in sessions with a virtual allocation table, which is not read.", damaged=False
            )
        else:
            raise UdfUnread("It has a partition map of a type that is not read.", damaged=False)
    for index, one in metadata:
        made[index] = _metadata(view, made, made[index], one)
    return made


def _spared(view: View, under: Partition, one: bytes, sector: int) -> Partition:
    """A sparable partition with the first sound one of its tables (UDF 2.60, 2.2.12)."""
    packet, tables = _numbers(one, 40, 2, 1)
    packet_bytes = packet * sector
    if not packet or packet_bytes % under.block:
        raise UdfUnread("The packets of its sparable partition cannot be.")
    made = Partition(under.offset, under.length, under.block, packet_bytes)
    for index in range(min(tables, 4)):
        raw = tagged(view, _numbers(one, 48 + 4 * index, 4)[0] * sector, 0, 56 + 8 * _MOST_SPARED)
        if raw is None or raw[17:39].rstrip(b"\0")[: len(_SPARING)] != _SPARING:
            continue
        for entry in range(min(_numbers(raw, 48, 2)[0], _MOST_SPARED)):
            original, mapped = _numbers(raw, 56 + 8 * entry, 4, 4)
            if original < 0xFFFF_FFF0:
                made.spared[original] = mapped * sector
        return made
    raise UdfUnread("The sparing tables of its partition are damaged or missing.")


def _metadata(view: View, maps: list[Partition], under: Partition, one: bytes) -> Partition:
    """A metadata partition: the bytes of a file, or of its mirror (UDF 2.60, 2.2.10 and 2.2.13)."""
    from catalogue.formats.udf_entry import METADATA_TYPES, file_entry

    for where in _numbers(one, 40, 4, 4):
        found = under.locate(where, under.block)
        entry = file_entry(view, maps, maps.index(under), found[0][0], under.block, METADATA_TYPES) if found else None
        if entry is not None and not entry.fault and entry.embedded is None:
            return Partition(under.offset, under.length, under.block, pieces=entry.extents)
    raise UdfUnread("Its metadata file is damaged or missing.")
