"""Bytes: flipped, cut, dropped, appended, filled, swapped, doubled, or something else in their place (judging.md)."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterator

from sample_bundles.eeprom import swapped
from sample_bundles.item import Item
from sample_bundles.lists import coreutils
from tests.campaign.grounds import Ground
from tests.campaign.mutant import FaultClass, Planted
from tests.formats import build_hex

GROUP = "bytes"
EEPROM, FIRMWARE = "eeprom-image", "firmware"
LEGACY, UEFI = "legacy-boot-rom", "uefi-boot-rom"
ROMS = (LEGACY, UEFI)
ARCHIVES = ("zip", "deflated zip", "tar.gz", "zip in zip")


def put(ground: Ground, role: str, data: bytes, *want: str, near: bool = True, note: str = "") -> Planted:
    """`data` under the sound piece's name, beside its companions."""
    fellows = {one.name: one.data for one in ground.fellows(role)}
    return Planted({ground.piece(role).name: data, **fellows}, data, want, near, note=note)


def images(data: bytes) -> list[tuple[int, int]]:
    """Offset and length of each image of a sound ROM (PCI Firmware Specification: PCIR+10h, in 512-byte units)."""
    found, at = [], 0
    while data[at : at + 2] == b"\x55\xaa":
        pcir = at + int.from_bytes(data[at + 0x18 : at + 0x1A], "little")
        length = 512 * int.from_bytes(data[pcir + 0x10 : pcir + 0x12], "little")
        found.append((at, length))
        at += length
    return found


def telling(ground: Ground, role: str) -> list[range]:
    """Where the bytes lie by which the role knows its sound piece."""
    data = ground.piece(role).data
    if role == EEPROM:
        return [range(len(ground.magic))]
    if role in ROMS:
        return [range(start, start + 0x140) for start, _length in images(data)]
    return [
        range(max(0, one.start() - 1), one.end() + 1)
        for text in ground.has
        for one in re.finditer(re.escape(text), data)
    ]


def _flip(data: bytes, at: int, bit: int) -> bytes:
    return data[:at] + bytes([data[at] ^ 1 << bit]) + data[at + 1 :]


def _bit(ground: Ground, role: str, draw: random.Random) -> tuple[bytes, int]:
    """A written piece with one bit turned where it does not say what it is for."""
    data = ground.piece(role).data
    skipped = telling(ground, role)
    while True:
        at = draw.randrange(len(data))
        if not any(at in one for one in skipped):
            return _flip(data, at, draw.randrange(8)), at


def flip(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    if role == "writer":
        return None
    data, at = _bit(ground, role, draw)
    return put(ground, role, data, "unvouched", note=f"bit at {at:#x}")


def flip_telling(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    data = ground.piece(role).data
    places = [at for one in telling(ground, role) for at in one] if role != "writer" else []
    if not places:
        return None
    at = draw.choice(places)
    return put(ground, role, _flip(data, at, draw.randrange(8)), "unvouched", "role-empty", "left-out", "pin-broken",
               note=f"bit at {at:#x}")  # fmt: skip


def flip_summed(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    """Found by the image's own sum alone: nothing else speaks against the bytes where a source names them."""
    if role == EEPROM:
        data, at = _bit(ground, role, draw)
        return put(ground, role, data, "eeprom-sum", note=f"bit at {at:#x}")
    if role == LEGACY:
        whole = ground.piece(role).data
        start, length = images(whole)[0]
        at = draw.randrange(start + 0x140, start + length)
        return put(ground, role, _flip(whole, at, draw.randrange(8)), "rom-damaged", note=f"bit at {at:#x}")
    return None


def flip_repaired(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    """One bit turned and the 8-bit sum repaired elsewhere: only a digest tells."""
    if role not in (EEPROM, LEGACY) or (role == EEPROM and ground.family.endswith("heron")):
        return None
    whole = ground.piece(role).data
    first, end = (0x90, len(whole)) if role == EEPROM else (0x140, images(whole)[0][1])
    one, other = draw.sample(range(first, end), 2)
    data = bytearray(_flip(whole, one, draw.randrange(8)))
    data[other] = (data[other] + sum(whole) - sum(data)) & 0xFF
    return put(ground, role, bytes(data), "unvouched", note=f"bit at {one:#x}, sum at {other:#x}")


def _listed(ground: Ground, role: str, data: bytes, listed: bytes, want: str, note: str) -> Planted:
    made = put(ground, role, data, want, note=note)
    name = ground.piece(role).name
    files = {**made.files, "SHA256SUMS": coreutils([Item(name, listed)])}
    return Planted(files, data, made.want, note=note)


def flip_listed(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    """The list beside it left as it was."""
    whole = ground.piece(role).data
    if role == "writer":
        at = draw.randrange(len(whole) // 2, len(whole))
        data = _flip(whole, at, draw.randrange(8))
    else:
        data, at = _bit(ground, role, draw)
    return _listed(ground, role, data, whole, "contradicted", f"bit at {at:#x}")


def flip_relisted(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    """The list beside it rewritten to agree: a neighbour vouches for nothing that is written."""
    if role == "writer":
        return None
    data, at = _bit(ground, role, draw)
    return _listed(ground, role, data, data, "unvouched", f"bit at {at:#x}")


def cut(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    """Cut at 0, 1, the header, the half, one before the end, anywhere."""
    whole = ground.piece(role).data
    if role == "writer":
        return None
    at = draw.choice((0, 1, 16, 0x40, len(whole) // 2, len(whole) - 1, draw.randrange(len(whole))))
    data = whole[:at]
    want = {EEPROM: "wrong-size", FIRMWARE: "unvouched"}.get(role, "rom-damaged")
    hides = ("role-empty", "left-out", "fit-unproved", "unvouched", "wrong-kind", "blank")
    return put(ground, role, data, want, *(() if at > 1_024 or (role == EEPROM and at >= 4) else hides),
               note=f"cut at {at:#x}")  # fmt: skip


def dropped(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    whole = ground.piece(role).data
    if role in (EEPROM, "writer"):
        return None
    at = draw.randrange(1_024, len(whole) - 1_024)
    want = "rom-damaged" if role in ROMS and at < images(whole)[0][1] - 512 and role == LEGACY else "unvouched"
    return put(ground, role, whole[:at] + whole[at + 512 :], want, note=f"512 bytes dropped at {at:#x}")


def appended(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    if role == "writer":
        return None
    data = ground.piece(role).data + draw.randbytes(draw.randrange(1, 4_096))
    return put(ground, role, data, "wrong-size" if role == EEPROM else "unvouched")


def filled(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    """All of it 00h or FFh. Only an EEPROM image is near by its size; others must be pinned to be looked at."""
    data = bytes([draw.choice((0, 0xFF))]) * len(ground.piece(role).data)
    return put(ground, role, data, "blank", near=role == EEPROM)


def pairs_swapped(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    if role == "writer":
        return None
    want = "bytes-swapped" if role == EEPROM else "fit-unproved"
    extra = () if role == EEPROM else ("wrong-kind", "rom-damaged", "unvouched")
    return put(ground, role, swapped(ground.piece(role).data), want, *extra, near=role == EEPROM)


def doubled(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    if role == "writer":
        return None
    data = ground.piece(role).data * draw.choice((2, 3, 4))
    return put(ground, role, data, "bytes-swapped" if role == EEPROM else "unvouched")


def instead(make: Callable[[bytes, random.Random], bytes]) -> Callable[[Ground, str, random.Random], Planted]:
    """Something else in the piece's place, which only a pin brings into the kit."""
    return lambda ground, role, draw: put(ground, role, make(ground.piece(role).data, draw), "wrong-kind", near=False)


def page(whole: bytes, draw: random.Random) -> bytes:
    word = draw.choice((b"Sign in", b"404", b"Download"))
    return b"<!DOCTYPE html>\n<html><body>" + word + b"</body></html>\n" + b" " * draw.randrange(len(whole))


def pointer(whole: bytes, draw: random.Random) -> bytes:
    return (
        b"version https://git-lfs.github.com/spec/v1\noid sha256:"
        + draw.randbytes(32).hex().encode()
        + b"\nsize %d\n" % len(whole)
    )


def hex_text(whole: bytes, draw: random.Random) -> bytes:
    return build_hex.intel_hex({draw.randrange(0, 0x100, 16): whole[:60_000]})


def _classes() -> Iterator[FaultClass]:
    yield FaultClass(GROUP, "one bit", flip, named=False)
    yield FaultClass(GROUP, "one bit where it tells", flip_telling, named=False)
    yield FaultClass(GROUP, "one bit, named", flip_summed)
    yield FaultClass(GROUP, "one bit, sum repaired", flip_repaired, named=False)
    yield FaultClass(GROUP, "one bit, list left", flip_listed)
    yield FaultClass(GROUP, "one bit, list rewritten", flip_relisted, named=False)
    yield FaultClass(GROUP, "cut short", cut, named=False)
    yield FaultClass(GROUP, "512 bytes dropped", dropped, named=False)
    yield FaultClass(GROUP, "bytes appended", appended, named=False)
    yield FaultClass(GROUP, "filled", filled)
    yield FaultClass(GROUP, "pairs swapped", pairs_swapped, varied=False, named=False)
    yield FaultClass(GROUP, "repeated", doubled, named=False)
    yield FaultClass(GROUP, "a web page instead", instead(page))
    yield FaultClass(GROUP, "a pointer file instead", instead(pointer))
    yield FaultClass(GROUP, "hex text instead", instead(hex_text))


CLASSES = tuple(_classes())
