"""The demo's option ROMs, as `romheaders` of Debian's fcode-utils reads them, and by the standard's own rules."""

from __future__ import annotations

import re
import shutil
import struct
import subprocess

import pytest

from sample_bundles import bittern, heron, plover, rom
from sample_bundles.scene import scene


def roms() -> list[tuple[str, bytes]]:
    found = {}
    for item in scene():
        for _, one in item.walk():
            if one.data[:2] == b"\x55\xaa":
                found[one.data] = one.name
    return [(name, data) for data, name in found.items()]


@pytest.mark.outside
@pytest.mark.skipif(not shutil.which("romheaders"), reason="needs Debian's fcode-utils")
@pytest.mark.parametrize(("data", "want"), [
    (bittern.LEGACY.data, [(0xF234, 0x0C81, 0x010700, 0x0829, 0, True)]),
    (bittern.UEFI.data, [(0xF234, 0x0C81, 0x010700, 0x0E02, 3, True)]),
    (bittern.RAID_LEGACY.data, [(0xF234, 0x0C80, 0x010400, 0x0829, 0, True)]),
    (heron.LEGACY.data, [(0xF234, 0x0A61, 0x010700, 0x050C, 0, True)]),
    (heron.UEFI.data, [(0xF234, 0x0A61, 0x010700, 0x0603, 3, True)]),
    (plover.ROM.data, [(0xF567, 0x2B11, 0x020000, 0x0108, 0, False), (0xF567, 0x2B11, 0x020000, 0x0108, 3, True)]),
], ids=["bittern legacy", "bittern uefi", "bittern raid", "heron legacy", "heron uefi", "plover joined"])
def test_romheaders_reads_the_same(tmp_path, data, want):
    path = tmp_path / "x.rom"
    path.write_bytes(data)
    told = subprocess.run(["romheaders", str(path)], capture_output=True, text=True, check=True).stdout
    blocks = re.split(r"^Image \d+:$", told, flags=re.MULTILINE)[1:]
    assert len(blocks) == len(want)
    total = 0
    for block, (vendor, device, class_code, revision, code_type, last) in zip(blocks, want, strict=True):
        def value(label, block=block):
            return int(re.search(rf"{label}: +(0x[0-9a-f]+)", block)[1], 16)

        assert "0x55aa (Ok)" in block
        assert "'PCIR' (Ok)" in block
        assert (value("Vendor ID"), value("Device ID"), value("Class Code")) == (vendor, device, class_code)
        assert (value("Revision Level of Code/Data"), value("Code Type")) == (revision, code_type)
        assert value("Last-Image Flag") == (0x80 if last else 0)
        total += value("Image Length") * 512
    assert total == len(data)


def test_the_sums_of_every_rom_are_right_except_the_damaged_one():
    """PCI Firmware Specification r3.x, 5.1: all bytes of a legacy image sum to 0 modulo 256."""
    wrong = []
    for name, data in roms():
        units = data[2]
        code_type = data[struct.unpack_from("<H", data, 0x18)[0] + 0x14]
        if code_type == 0 and sum(data[: units * 512]) & 0xFF:
            wrong.append(name)
    assert wrong == ["mirror/BTLB841.ROM"]


def test_expansion_header_and_undi_sums_are_right():
    """Plug and Play BIOS 1.0A, 3.2 and PXE 2.1, 4.2: each structure sums to 0 modulo 256."""
    data = plover.ROM.data
    at = struct.unpack_from("<H", data, 0x1A)[0]
    assert data[at : at + 4] == b"$PnP"
    assert sum(data[at : at + data[at + 5] * 16]) & 0xFF == 0
    at = struct.unpack_from("<H", data, 0x16)[0]
    assert data[at : at + 4] == b"UNDI"
    assert sum(data[at : at + data[at + 4]]) & 0xFF == 0


def test_the_device_list_is_where_the_structure_says():
    """PCI Firmware Specification r3.x, 5.1: the list pointer counts from the start of the PCI Data Structure."""
    data = bittern.LEGACY.data
    at = struct.unpack_from("<H", data, 0x18)[0]
    listed = at + struct.unpack_from("<H", data, at + 8)[0]
    assert struct.unpack_from("<3H", data, listed) == (0x0C81, 0x0C91, 0)


def test_an_efi_image_keeps_its_driver_whole():
    driver = bytes(range(256)) * 9
    image = rom.efi(rom.Card(1, 2, 0x020000), driver)
    at = struct.unpack_from("<H", image, 0x16)[0]
    assert image[at : at + len(driver)] == driver
    assert len(image) == struct.unpack_from("<H", image, 2)[0] * 512
