"""Every image of every option ROM in two Debian packages, against a second reader written from the standard.

Sources: Debian packages `ipxe-qemu` (network boot ROMs: legacy, and legacy with EFI) and `seabios` (video ROMs: legacy
and ISA-style), fetched by `apt-get download`; PCI Firmware Specification 3.0, 5.1, by `rom_by_the_standard`.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from catalogue import formats
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.reference import debian, rom_by_the_standard

pytestmark = pytest.mark.outside

FOLDERS = {"ipxe-qemu": "usr/lib/ipxe", "seabios": "usr/share/seabios"}
LEAST = {"ipxe-qemu": 16, "seabios": 10}
"""Option ROMs that the packages of Debian 12 hold; a later release may hold more."""
NO_ROMS = ("bios", "acpi")
"""Beginnings of the names of what is no option ROM: machine firmware and ACPI tables."""


def roms(package: str) -> list[Path]:
    folder = debian.files(package) / FOLDERS[package]
    found = [one for one in sorted(folder.rglob("*")) if one.is_file() and one.suffix in (".rom", ".bin")]
    return [one for one in found if not one.name.startswith(NO_ROMS)]


def read(path: Path) -> Reading:
    return formats.read(BytesView(path.read_bytes()))


PACKAGES = pytest.mark.parametrize("package", FOLDERS)


@PACKAGES
def test_every_image_says_the_same(package: str):
    paths = roms(package)
    assert len(paths) >= LEAST[package]
    for path in paths:
        theirs = list(rom_by_the_standard.images(path.read_bytes()))
        reading = read(path)
        assert reading.format == "option-rom", path
        assert len(reading.parts) == len(theirs), path
        for part, image in zip(reading.parts, theirs, strict=True):
            assert {name: part.value(name) for name in image} == image, path
            assert part.value("hidden") is None


@PACKAGES
def test_sound_roms_have_no_fault(package: str):
    for path in roms(package):
        reading = read(path)
        assert not reading.faults, path
        assert {one.code for one in reading.notes} <= {"rom-odd"}, path


@PACKAGES
def test_spans_cover_the_file(package: str):
    for path in roms(package):
        at = 0
        for span in read(path).spans:
            assert span.offset == at, path
            at += span.length
        assert at == path.stat().st_size, path


@PACKAGES
def test_every_kind_is_met(package: str):
    kinds = {part.kind for path in roms(package) for part in read(path).parts}
    other = "option-rom/efi" if package == "ipxe-qemu" else "option-rom/isa"
    assert kinds == {"option-rom/legacy-x86", other}


def test_network_roms_have_their_structures_and_drivers():
    """PXE 2.1 and Plug and Play BIOS: a network boot ROM brings both; each EFI image holds a PE driver for x86-64."""
    for path in roms("ipxe-qemu"):
        for part in read(path).parts:
            if part.value("code_type") == 3:
                (driver,) = part.parts
                assert driver.kind == "efi-driver"
                assert driver.value("machine") == part.value("efi_machine") == 0x8664
                assert driver.value("subsystem") == part.value("efi_subsystem") == 11
                assert path.read_bytes()[driver.offset : driver.offset + 2] == b"MZ"
            else:
                assert [one.kind for one in part.parts] == ["pnp-header", "undi-structure"]
                assert part.parts[0].value("product_name") == "iPXE"
                assert part.parts[1].value("undi_version") == "2.1.0"


def test_a_vendor_id_of_0_is_odd_and_no_more():
    """One driver of the package serves many makers' cards, so its legacy image names vendor 0000h."""
    notes = [one.code for one in read(debian.files("ipxe-qemu") / "usr/lib/ipxe/qemu/pxe-ne2k_pci.rom").notes]
    assert notes == ["rom-odd"]


def test_machine_firmware_is_no_option_rom():
    folder = debian.files("seabios") / FOLDERS["seabios"]
    for path in sorted(folder.glob("bios*.bin")):
        assert read(path).format != "option-rom", path


def test_a_changed_byte_in_a_real_rom_is_told():
    """Each tenth block of one legacy ROM with one bit changed: the sum tells, whatever the bit."""
    data = (debian.files("seabios") / FOLDERS["seabios"] / "vgabios-stdvga.bin").read_bytes()
    for at in range(3, len(data), 5120):
        changed = data[:at] + bytes([data[at] ^ 0x10]) + data[at + 1 :]
        assert [one.code for one in formats.read(BytesView(changed)).faults] == ["rom-damaged"], at
