"""Faults planted in sound kits, one at a time: each makes the kit not ready, with exactly these stops and roles."""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest

from catalogue.shapes.kit import Pin
from sample_bundles import bittern, eeprom, heron, plover
from sample_bundles.bittern import flipped
from sample_bundles.item import Item
from tests.reference.demo_bench import Bench, Bundle, chosen, digest, stops

B, H, P = bittern.FAMILY, heron.FAMILY, plover.FAMILY


@dataclass(frozen=True)
class Fault:
    """What is planted, and the stops that must come of it: exactly these."""

    name: str
    family: str
    plant: Callable[[Bundle], Bundle]
    stops: set[tuple[str, str]]
    route: str | None = None


def _put(old: Item, new: Item | bytes) -> Callable[[Bundle], Bundle]:
    return lambda bundle: bundle.put(old, new)


def _gone(*old: Item) -> Callable[[Bundle], Bundle]:
    return lambda bundle: bundle.without(*old)


def _both(first: Callable[[Bundle], Bundle], second: Callable[[Bundle], Bundle]) -> Callable[[Bundle], Bundle]:
    return lambda bundle: second(first(bundle))


def _stale(plant: Callable[[Bundle], Bundle]) -> Callable[[Bundle], Bundle]:
    """The list beside the piece left as it was."""
    return lambda bundle: replace(plant(bundle), listed="stale")


def _renewed(plant: Callable[[Bundle], Bundle]) -> Callable[[Bundle], Bundle]:
    """The list beside the piece rewritten to agree."""
    return lambda bundle: replace(plant(bundle), listed="right")


def empty(role: str, *codes: str) -> set[tuple[str, str]]:
    return {("role-empty", role), *((code, role) for code in codes)}


def only(role: str, *codes: str) -> set[tuple[str, str]]:
    return {(code, role) for code in codes}


def _other_machine(rom: bytes) -> bytes:
    """The EFI header's machine changed to AArch64, the driver left as it is."""
    at = rom.index(struct.pack("<I", 0x0EF1)) + 4 + 2
    return rom[:at] + struct.pack("<H", 0xAA64) + rom[at + 2 :]


FW, EE = bittern.FIRMWARE, bittern.EEPROM
PAGE = b"<!DOCTYPE html>\n<html><body>BITTERN PT 12.04.0: sign in first</body></html>\n" + b" " * 70_000

FAULTS = [
    # a role that the kit needs is gone
    Fault("firmware gone", B, _gone(FW), empty("firmware")),
    Fault("EEPROM image gone", B, _gone(EE), empty("eeprom-image")),
    Fault("utility gone", B, _gone(bittern.DOS_WRITER), empty("writer", "other-bench")),
    Fault("utilities gone", B, _gone(bittern.DOS_WRITER, bittern.UEFI_WRITER), empty("writer")),
    Fault("boot ROM gone", P, _gone(plover.ROM), empty("legacy-boot-rom") | empty("uefi-boot-rom")),
    # the other mode's piece in its place
    Fault("RAID firmware", B, _put(FW, bittern.RAID_FIRMWARE), empty("firmware", "other-mode")),
    Fault("RAID EEPROM image", B, _put(EE, bittern.RAID_EEPROM), empty("eeprom-image", "other-mode")),
    Fault("RAID firmware, Heron", H, _put(heron.FIRMWARE, heron.RAID_FIRMWARE), empty("firmware", "other-mode")),
    Fault("quiet firmware", P, _put(plover.FIRMWARE, plover.PLAIN_FIRMWARE), empty("firmware", "other-mode")),
    Fault("quiet boot ROM", P, _put(plover.ROM, plover.joined_rom("1.8.0", plover.PLAIN)),
          empty("legacy-boot-rom", "other-mode", "unvouched") | empty("uefi-boot-rom", "other-mode", "unvouched")),
    # EEPROM images
    Fault("blank FF", B, _put(EE, b"\xff" * 320), empty("eeprom-image", "blank", "unvouched")),
    Fault("blank 00", B, _put(EE, bytes(320)), empty("eeprom-image", "blank", "unvouched")),
    Fault("blank 00, Heron", H, _put(heron.EEPROM, bytes(192)), empty("eeprom-image", "blank", "unvouched")),
    Fault("the Heron's size", B, _put(EE, eeprom.bittern(bittern.PASS, size=192)),
          empty("eeprom-image", "wrong-size", "unvouched")),
    Fault("one byte short", B, _put(EE, EE.data[:-1]), empty("eeprom-image", "wrong-size", "unvouched")),
    Fault("one byte long", B, _put(EE, EE.data + b"\0"), empty("eeprom-image", "wrong-size", "unvouched")),
    Fault("pairs swapped", H, _put(heron.EEPROM, eeprom.swapped(heron.EEPROM.data)),
          empty("eeprom-image", "bytes-swapped", "unvouched")),
    Fault("twice over", B, _put(EE, EE.data * 2), empty("eeprom-image", "bytes-swapped", "unvouched")),
    Fault("sum broken", B, _put(EE, flipped(EE.data, 0x90)), empty("eeprom-image", "eeprom-sum", "unvouched")),
    Fault("sum broken, Heron", H, _put(heron.EEPROM, flipped(heron.EEPROM.data, 0x90)),
          empty("eeprom-image", "eeprom-sum", "unvouched")),
    Fault("another card's identity", B, _put(EE, eeprom.bittern(bittern.PASS, 0x5F23_4010_0000_1A40, "CB0023117")),
          empty("eeprom-image", "foreign-identity", "unvouched")),
    Fault("other mode, sum right", H, _put(heron.EEPROM, eeprom.heron(heron.RAID)),
          empty("eeprom-image", "other-mode", "unvouched")),
    Fault("another vendor", B, _put(EE, eeprom.bittern(bittern.PASS, vendor=0xF567)),
          empty("eeprom-image", "other-family", "unvouched")),
    Fault("settings nobody vouches for", B, _put(EE, eeprom.bittern(bittern.PASS, label="something else")),
          only("eeprom-image", "unvouched")),
    # firmware bytes
    Fault("cut short", B, _put(FW, FW.data[:61_440]), empty("firmware", "wrong-size", "unvouched")),
    Fault("cut a little", B, _put(FW, FW.data[:100_000]), only("firmware", "unvouched")),
    Fault("one bit, no list", B, _put(FW, flipped(FW.data, 70_000)), only("firmware", "unvouched")),
    Fault("one bit, list rewritten", B, _renewed(_put(FW, flipped(FW.data, 70_000))), only("firmware", "unvouched")),
    Fault("one bit, list left", B, _stale(_put(FW, flipped(FW.data, 70_000))),
          empty("firmware", "contradicted", "unvouched")),
    Fault("one bit in the ROM, sum repaired", P,
          _put(plover.ROM, flipped(flipped(plover.ROM.data, 9_000), 9_001)),
          only("legacy-boot-rom", "unvouched") | only("uefi-boot-rom", "unvouched")),
    Fault("one byte in the ROM", P, _put(plover.ROM, flipped(plover.ROM.data, 9_000)),
          empty("legacy-boot-rom", "rom-damaged", "unvouched") | empty("uefi-boot-rom", "rom-damaged", "unvouched")),
    Fault("ROM cut short", P, _put(plover.ROM, plover.ROM.data[:-700]),
          empty("legacy-boot-rom", "rom-damaged", "unvouched") | empty("uefi-boot-rom", "rom-damaged", "unvouched")),
    Fault("EFI machine changed", P, _put(plover.ROM, _other_machine(plover.ROM.data)),
          only("legacy-boot-rom", "unvouched") | empty("uefi-boot-rom", "wrong-cpu", "unvouched")),
    Fault("a web page instead", B, _put(FW, PAGE), empty("firmware", "wrong-kind", "unvouched")),
    Fault("a list that speaks against sound firmware", B,
          lambda bundle: replace(bundle, listed="stale", before=bundle.put(FW, flipped(FW.data, 5)).items),
          empty("firmware", "contradicted")),
    # time
    Fault("withdrawn only", B, _put(FW, bittern.controller("12.02.0", bittern.PASS)),
          only("firmware", "withdrawn", "unvouched")),
    Fault("withdrawn by digest", P, _put(plover.FIRMWARE, plover.controller("2.3.0", plover.NETBOOT)),
          only("firmware", "withdrawn", "unvouched")),
    Fault("below the lowest", H, _put(heron.FIRMWARE, heron.controller("5.40.0", heron.PASS)),
          empty("firmware", "below-lowest", "unvouched")),
    # utilities
    Fault("utility too old", B, _put(bittern.DOS_WRITER, bittern.dos_writer("3.09")),
          empty("writer", "tool-too-old", "other-bench")),
    Fault("utility too new", B, _both(_put(bittern.DOS_WRITER, bittern.dos_writer("4.00")), _gone(bittern.UEFI_WRITER)),
          only("writer", "tool-too-new")),
    Fault("companion gone", B, _gone(bittern.EXTENDER, bittern.UEFI_WRITER), empty("writer", "companion-missing")),
    Fault("COM companion gone", H, _gone(heron.KEYS, heron.UEFI_WRITER), empty("writer", "companion-missing")),
    Fault("utility for Windows", B,
          _both(_put(bittern.DOS_WRITER, bittern.windows_writer("3.22")), _gone(bittern.UEFI_WRITER)),
          empty("writer", "other-bench")),
    Fault("utility for another bench", P, _gone(plover.LINUX_WRITER), empty("writer", "other-bench")),
]


@pytest.mark.parametrize("packed", [True, False], ids=["packed", "loose"])
@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_a_planted_fault_is_named(tmp_path, fault: Fault, packed):
    bundle = replace(fault.plant(Bundle.of(fault.family)), packed=packed)
    proved = Bench(tmp_path).prove(bundle, fault.family, fault.route)
    assert proved.verdict == "not-ready"
    assert stops(proved) == fault.stops


@pytest.mark.parametrize("family", [B, H, P])
def test_a_download_that_broke_off_gives_no_kit(tmp_path, family):
    one = Bench(tmp_path)
    path = Bundle.of(family).lay(one.intake)
    path.write_bytes(path.read_bytes()[:-200])
    one.index()
    proved = one.kit(family)
    assert proved.verdict == "not-ready"
    assert {code for code, _ in stops(proved)} == {"role-empty"}


def test_a_member_whose_own_sum_fails_is_not_taken(tmp_path):
    """A byte of the stored firmware turned inside the archive; the archive's CRC (APPNOTE 4.4.7) tells."""
    one = Bench(tmp_path)
    path = Bundle.of(B).lay(one.intake)
    data = path.read_bytes()
    at = data.index(FW.data[70_000:70_032])
    path.write_bytes(flipped(data, at))
    one.index()
    proved = one.kit(B)
    assert proved.verdict == "not-ready"
    assert {role for _, role in stops(proved)} == {"firmware"}


def test_no_changed_byte_of_the_eeprom_image_passes(tmp_path):
    """Any changed byte of a written piece, chosen by hand: not ready. Beside the right one, none is chosen."""
    one = Bench(tmp_path)
    changed = [Item(f"changed/{at}.bin", flipped(EE.data, at)) for at in range(0, 320, 29)]
    Bundle.of(B).add(*changed).lay(one.intake)
    one.index()
    assert chosen(one.kit(B))["eeprom-image"] == (digest(EE),)
    for item in changed:
        proved = one.kit(B, pins=[Pin("eeprom-image", digest(item), "tried on purpose")])
        assert proved.verdict == "not-ready", item.name
        assert {role for _, role in stops(proved)} == {"eeprom-image"}, item.name


def test_one_name_twice_in_an_archive_is_not_taken(tmp_path):
    """The right firmware and a changed one under the same name: which would be unpacked is anybody's guess."""
    again = replace(FW, content=flipped(FW.data, 70_000))
    proved = Bench(tmp_path).prove(Bundle.of(B).add(again), B)
    assert stops(proved) == empty("firmware", "archive-damaged", "unvouched")


@pytest.mark.parametrize("packed", [True, False], ids=["packed", "loose"])
def test_the_companion_lies_in_the_utilitys_own_folder_or_archive(tmp_path, packed):
    """Elsewhere in the same archive will do; in another folder it is missing."""
    plant = _both(_put(bittern.EXTENDER, bittern.EXTENDER.named("far/QHXTEND.BIN")), _gone(bittern.UEFI_WRITER))
    proved = Bench(tmp_path).prove(replace(plant(Bundle.of(B)), packed=packed), B)
    assert stops(proved) == (set() if packed else empty("writer", "companion-missing"))


def test_two_releases_mixed_by_hand_are_refused(tmp_path):
    """The old release's ROM pinned beside the new firmware: no common release, and the family says stop."""
    one = Bench(tmp_path)
    old = Item("BTLB830.ROM", bittern.legacy_rom("8.30.0", bittern.PASS))
    Bundle.of(B).add(old).lay(one.intake)
    one.index()
    assert one.kit(B).verdict == "ready"
    proved = one.kit(B, pins=[Pin("legacy-boot-rom", digest(old), "tried on purpose")])
    assert ("mixed-release", "legacy-boot-rom") in stops(proved)
