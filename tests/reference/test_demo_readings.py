"""What the readers say of the demo's pieces: each is what it was built to be."""

from __future__ import annotations

import pytest

from catalogue import formats
from catalogue.formats.view import BytesView
from sample_bundles import bittern, heron, plover
from sample_bundles.scene import scene

KINDS = {
    bittern.FIRMWARE: "opaque", bittern.LEGACY: "option-rom/legacy-x86", bittern.UEFI: "option-rom/efi",
    bittern.EEPROM: "opaque", bittern.DOS_WRITER: "dos-program", bittern.UEFI_WRITER: "efi-application",
    heron.DOS_WRITER: "dos-program", heron.NOTES: "text", heron.UEFI: "option-rom/efi", plover.ROM: "option-rom",
    plover.LINUX_WRITER: "linux-program", plover.UEFI_WRITER: "efi-application",
}


@pytest.mark.parametrize(("item", "kind"), KINDS.items(), ids=lambda value: getattr(value, "name", value))
def test_a_good_piece_is_read_as_its_kind_without_fault(item, kind):
    reading = formats.read(BytesView(item.data))
    assert reading.kind == kind
    assert reading.faults == ()


def test_every_list_is_read_as_one_with_all_its_lines():
    counts = {"SHA256SUMS": {10, 2, 1}, "CHECKSUM": {2}, "MD5SUMS": {5}, "HERON.SHA": {1}, "heron.sha256.txt": {9},
              "checksum.txt": {2}, "checksums.txt": {5}, "HNCFGP.BIN.sha256": {1}}
    seen = set()
    for item in scene():
        for place, one in item.walk():
            name = place[-1].rsplit("/", 1)[-1]
            if name in counts:
                reading = formats.read(BytesView(one.data))
                assert reading.kind == "checksum-list", place
                assert len(reading.entries) in counts[name], place
                seen.add(name)
    assert seen == set(counts)


def test_only_the_damaged_rom_and_the_broken_download_have_faults():
    faulty = {place[-1]: {fault.code for fault in formats.read(BytesView(one.data)).faults}
              for item in scene() for place, one in item.walk()}
    assert {name: codes for name, codes in faulty.items() if codes} == {
        "mirror/BTLB841.ROM": {"rom-damaged"}, "bittern-12.04.0 (2).zip": {"archive-damaged"},
    }


def test_the_ids_of_the_joined_rom_are_read_with_its_list():
    reading = formats.read(BytesView(plover.ROM.data))
    assert {(one.vendor, one.device, one.devices, one.class_code) for one in reading.ids} == {
        (0xF567, 0x2B11, (0x2B11, 0x2B21), 0x020000), (0xF567, 0x2B11, (), 0x020000),
    }
