"""An EEPROM layout out of dumps and images: where a card's IDs, address and serial stand, and which sum holds.

Searching is bounded: images of 64 KiB at most, MOST_IMAGES of one size, sums over the whole image only.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from catalogue.families.drafting.given import Piece, SumTable
from catalogue.families.drafting.identities import MAC, SERIAL, SeenIdentity
from catalogue.families.drafting.modes import SeenMode

MOST_SIZE = 64 << 10
MOST_IMAGES = 32
MAGIC = 4
MOST_SERIAL = 64
LEAST_SIZE = 16


@dataclass(frozen=True, slots=True)
class SeenField:
    """One field: its place, form, length where the form has none of its own, meaning and source."""

    at: int
    form: str
    length: int
    means: str
    source: str

    @property
    def end(self) -> int:
        """Where it ends."""
        return self.at + self.length


@dataclass(frozen=True, slots=True)
class SeenSum:
    """A sum that holds for every image: over [0, end), with a total or stored at `at`."""

    form: str
    end: int
    total: int | None
    at: int | None
    source: str


@dataclass(frozen=True, slots=True)
class SeenLayout:
    """What the images of one size share. `dumps` hold the card's address; `templates` hold none where it stands."""

    size: int
    images: tuple[Piece, ...]
    fields: tuple[SeenField, ...]
    magic: bytes = b""
    magic_at: int = 0
    agree: int = 0
    sum: SeenSum | None = None
    dumps: tuple[Piece, ...] = ()
    templates: tuple[Piece, ...] = ()
    elsewhere: tuple[str, ...] = field(default=())


def seen_layout(
    pieces: Iterable[Piece], modes: tuple[SeenMode, ...], identities: tuple[SeenIdentity, ...], sums: SumTable
) -> SeenLayout | None:
    """The layout of the folder's EEPROM images; None where no small opaque piece holds the card's IDs or address."""
    small = [
        one for one in pieces
        if one.kind == "opaque" and LEAST_SIZE <= one.size <= MOST_SIZE and one.data.strip(one.data[:1])
    ]  # fmt: skip
    telling = [one for one in small if _ids(one.data, modes) or _addresses(one.data, identities)]
    if not telling:
        return None
    size = Counter(one.size for one in telling).most_common(1)[0][0]
    images = tuple(one for one in telling if one.size == size)[:MOST_IMAGES]
    fields: list[SeenField] = []
    elsewhere: list[str] = []
    order = _shared_ids(images, modes)
    if order is not None:
        form, at, holder = order
        fields.append(SeenField(at, form, 2, "mode.vendor", holder.at(at)))
        fields.append(SeenField(at + 2, form, 2, "mode.device", holder.at(at + 2)))
    dumps = tuple(one for one in images if _addresses(one.data, identities))
    for identity in identities:
        found = [(one, *place) for one in dumps for place in _places(one.data, identity)]
        if not found:
            continue
        dump, at, form, length = found[0]
        elsewhere += [f"{one.at(where)} ({identity.name})" for one, where, _form, _length in found[1:] if where != at]
        if identity.kind == SERIAL:
            length = _serial_length(images, at, length)
        one = SeenField(at, form, length, f"identity.{identity.name}", dump.at(at))
        if all(one.at >= other.end or other.at >= one.end for other in fields):
            fields.append(one)
    fields.sort(key=lambda one: one.at)
    magic_at, magic = _magic(images, fields)
    return SeenLayout(
        size, images, tuple(fields), magic, magic_at, _agree(images), _sum(images, sums), dumps,
        tuple(one for one in images if _is_template(one, fields)), tuple(elsewhere),
    )  # fmt: skip


def _ids(data: bytes, modes: tuple[SeenMode, ...]) -> list[tuple[str, int]]:
    """Where vendor and device of a mode stand side by side, and in which order of bytes."""
    out = []
    for mode in modes:
        for form, order in (("u16le", "little"), ("u16be", "big")):
            pair = mode.vendor.to_bytes(2, order) + mode.device.to_bytes(2, order)  # type: ignore[arg-type]
            at = data.find(pair)
            if at >= 0:
                out.append((form, at))
    return out


def _shared_ids(images: tuple[Piece, ...], modes: tuple[SeenMode, ...]) -> tuple[str, int, Piece] | None:
    counted = Counter(place for one in images for place in set(_ids(one.data, modes)))
    if not counted:
        return None
    form, at = min(counted, key=lambda place: (-counted[place], place[1], place[0]))
    return form, at, next(one for one in images if (form, at) in _ids(one.data, modes))


def _addresses(data: bytes, identities: tuple[SeenIdentity, ...]) -> bool:
    return any(_places(data, one) for one in identities if one.kind != SERIAL)


def _places(data: bytes, identity: SeenIdentity) -> list[tuple[int, str, int]]:
    """Where an identity stands, in which form, and how long it is there."""
    if identity.kind == SERIAL:
        value = (identity.value.lstrip("0") if identity.short else identity.value).encode("ascii", "replace")
        return [(at, "ascii", len(value)) for at in _every(data, value)]
    if identity.kind == MAC:
        return [(at, "bytes", 6) for at in _every(data, identity.number.to_bytes(6, "big"))]
    big = [(at, "u64be", 8) for at in _every(data, identity.number.to_bytes(8, "big"))]
    return big + [(at, "u64le", 8) for at in _every(data, identity.number.to_bytes(8, "little"))]


def _every(data: bytes, sought: bytes) -> list[int]:
    out: list[int] = []
    at = data.find(sought)
    while at >= 0 and len(out) < 8:
        out.append(at)
        at = data.find(sought, at + 1)
    return out


def _serial_length(images: tuple[Piece, ...], at: int, held: int) -> int:
    """How long the field of a text is: as far as every image pads it, and at least what a dump holds."""
    ends = []
    for one in images:
        fill = one.data[at]
        if fill in (0x00, 0xFF):
            run = one.data[at : at + MOST_SERIAL]
            ends.append(len(run) - len(run.lstrip(bytes([fill]))))
        else:
            run = one.data[at + held : at + MOST_SERIAL]
            ends.append(held + len(run) - len(run.lstrip(run[:1] if run[:1] in (b"\0", b"\xff", b" ") else b"")))
    return max(held, min(ends, default=held))


def _magic(images: tuple[Piece, ...], fields: list[SeenField]) -> tuple[int, bytes]:
    """The first aligned four bytes that all images share, that are no mere fill and no field."""
    first = images[0].data
    for at in range(0, min(len(first), 4096) - MAGIC + 1, MAGIC):
        one = first[at : at + MAGIC]
        free = all(at + MAGIC <= field.at or at >= field.end for field in fields)
        if free and one.strip(b"\0\xff") and all(other.data[at : at + MAGIC] == one for other in images):
            return at, one
    return 0, b""


def _agree(images: tuple[Piece, ...]) -> int:
    """How many bytes at the beginning all images share."""
    first = images[0].data
    return next((n for n, bytes_ in enumerate(zip(*(one.data for one in images), strict=True)) if len(set(bytes_)) > 1),
                len(first))  # fmt: skip


def _is_template(piece: Piece, fields: list[SeenField]) -> bool:
    own = [one for one in fields if one.means.startswith("identity.")]
    return bool(own) and all(not piece.data[one.at : one.end].strip(b"\0\xff ") for one in own)


def _sum(images: tuple[Piece, ...], sums: SumTable) -> SeenSum | None:
    """The widest sum that holds for every image, of which two differ where it counts; chance is left no room.

    A CRC is stored behind its range; another sum brings the whole to nothing or to all ones, or is stored likewise.
    """
    size = images[0].size
    widest = sorted(sums, key=lambda form: (-sums[form][1], form))
    crcs = [form for form in widest if form.startswith("crc")]
    others = [form for form in widest if form not in crcs]
    ways = (*((form, True) for form in crcs), *((form, False) for form in others), *((form, True) for form in others))
    for form, stored in ways:
        sums_up, width = sums[form]
        end = size - width if stored else size
        ranges = {one.data[:end] for one in images}
        if len(ranges) < 2:
            continue
        source = f"{len(ranges)} differing images, {images[0].places[0]} first"
        if stored and all(sums_up(one.data[:end]) == int.from_bytes(one.data[end:], "little") for one in images):
            return SeenSum(form, end, None, end, source)
        totals = set() if stored else set(map(sums_up, ranges))
        if totals in ({0}, {(1 << 8 * width) - 1}):
            return SeenSum(form, end, totals.pop(), None, source)
    return None
