"""EEPROM images: size, sum, mode and identity (judging.md)."""

from __future__ import annotations

import random
from collections.abc import Callable

from sample_bundles import bittern, eeprom, heron
from tests.campaign.classes_bytes import EEPROM, put
from tests.campaign.grounds import Ground
from tests.campaign.mutant import FaultClass, Planted

GROUP = "EEPROM"


def _made(ground: Ground, raid: bool = False, address: int | None = None, serial: str = "", **how: object) -> bytes:
    family, build = (bittern, eeprom.bittern) if ground.family == bittern.FAMILY else (heron, eeprom.heron)
    return build(family.RAID if raid else family.PASS, address, serial, **how)  # type: ignore[arg-type]


def _only(
    make: Callable[[Ground, random.Random], bytes], want: str
) -> Callable[[Ground, str, random.Random], Planted | None]:
    return lambda ground, role, draw: put(ground, role, make(ground, draw), want) if role == EEPROM else None


def _label(draw: random.Random) -> str:
    return f"settings {draw.random()}"


def _address(draw: random.Random) -> int:
    return 0x5F23401 << 36 | draw.randrange(1, 1 << 36)


def _long(ground: Ground, draw: random.Random) -> bytes:
    return _made(ground, label=_label(draw)) + draw.randbytes(1)


def _other_size(ground: Ground, draw: random.Random) -> bytes:
    return _made(ground, label=_label(draw), size=192 if ground.family == bittern.FAMILY else 320)


def _hidden(ground: Ground, draw: random.Random) -> bytes:
    """The address elsewhere than in its field, as it is or turned round, and the sum right."""
    address = _address(draw).to_bytes(8, "big")
    data = bytearray(_made(ground, label=_label(draw)))
    at = draw.randrange(0x70, len(data) - 10)
    data[at : at + 8] = draw.choice((address, address[::-1]))
    if ground.family == bittern.FAMILY:
        data[-1] = 0
        data[-1] = -sum(data) & 0xFF
    else:
        data[-2:] = eeprom.crc16(bytes(data[:-2])).to_bytes(2, "little")
    return bytes(data)


CLASSES = (
    FaultClass(GROUP, "EEPROM one byte short", _only(lambda g, d: _made(g, label=_label(d))[:-1], "wrong-size")),
    FaultClass(GROUP, "EEPROM one byte long", _only(_long, "wrong-size")),
    FaultClass(GROUP, "EEPROM of the other generation's size", _only(_other_size, "wrong-size")),
    FaultClass(GROUP, "EEPROM of the other mode", _only(lambda g, d: _made(g, True, label=_label(d)), "other-mode")),
    FaultClass(GROUP, "EEPROM of another maker",
               _only(lambda g, d: _made(g, vendor=d.choice((0xF567, 0xF111)), label=_label(d)), "other-family")),
    FaultClass(GROUP, "EEPROM with another card's identity",
               _only(lambda g, d: _made(g, False, _address(d), f"CB{d.randrange(10**6):07}", label=_label(d)),
                     "foreign-identity")),
    FaultClass(GROUP, "EEPROM with another card's serial number",
               _only(lambda g, d: _made(g, False, None, f"CB{d.randrange(10**6):07}", label=_label(d)),
                     "foreign-identity")),
    FaultClass(GROUP, "EEPROM with an address out of place", _only(_hidden, "foreign-identity")),
    FaultClass(GROUP, "EEPROM settings of nobody's", _only(lambda g, d: _made(g, label=_label(d)), "unvouched"),
               named=False),
)  # fmt: skip
