"""Kits judged from outside where a UEFI boot ROM is compressed: what stops a plain driver stops a packed one."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.contracts.test_kits_outside import Bench, bench, stops, uefi
from tests.formats.build_rom import driver, rom, te
from tests.formats.build_uefi_stream import pack

__all__ = ["bench"]


def packed(**more: object) -> bytes:
    return rom(uefi(compression=1, **more))


def flipped(at: int) -> bytes:
    data = bytearray(packed())
    data[at] ^= 1
    return bytes(data)


def kit_with(bench: Callable[..., Bench], boot_rom: bytes) -> dict[str, object]:
    return bench({"uefi.rom": boot_rom}).kit()


@pytest.mark.parametrize("boot_rom", [packed(), packed(driver=te())], ids=["PE", "TE"])
def test_a_sound_packed_driver_is_ready(boot_rom: bytes, bench: Callable[..., Bench]) -> None:
    kit = kit_with(bench, boot_rom)
    assert kit["verdict"] == "ready", stops(kit)


REFUSED = {
    "header and driver for two machines": ("wrong-cpu", packed(machine=0x14C, driver=driver())),
    "header and TE driver for two machines": ("wrong-cpu", packed(machine=0xAA64, driver=te())),
    "an application, as its own header says": ("wrong-kind", packed(driver=driver(subsystem=10))),
    "an application, as both headers say": ("wrong-kind", packed(subsystem=10)),
    "a Windows program": ("wrong-kind", packed(driver=driver(subsystem=3))),
    "one bit of the packed bytes changed": ("rom-damaged", flipped(0x80 + 8 + 14)),
    "a packed size past the image": ("rom-damaged", flipped(0x80 + 2)),
    "not packed at all": ("rom-damaged", packed().replace(pack(driver()), driver()[: len(pack(driver()))])),
    "packed from something else": ("rom-damaged", packed(driver=b"no program")),
    "packed from half a driver": ("rom-damaged", packed(driver=driver()[:-100])),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_speaks_against_a_packed_driver_stops_the_kit(name: str, bench: Callable[..., Bench]) -> None:
    code, boot_rom = REFUSED[name]
    kit = kit_with(bench, boot_rom)
    assert kit["verdict"] == "not-ready"
    assert (code, "uefi-boot-rom") in stops(kit)


def test_a_pattern_is_not_looked_for_in_unpacked_bytes(bench: Callable[..., Bench]) -> None:
    """family-file.md: patterns are looked for in the bytes of the piece itself."""
    body = driver(body=b"\0CURLEW RD\0")
    shown = bench({"uefi.rom": packed(driver=body), "plain.rom": rom(uefi(driver=body))})
    near = {one["role"]: one for one in shown.kit()["roles"]}["firmware"]["others"]
    assert [one["piece"] for one in near] == [sha_of(rom(uefi(driver=body)))]


def sha_of(data: bytes) -> str:
    import hashlib

    return hashlib.sha256(data).hexdigest()
