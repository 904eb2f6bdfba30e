"""The EFI header by hand, one field a line (UEFI Specification 14.4.2), and what the reference firmware refuses."""

import struct

import pytest

from catalogue.formats.efi_image import read_efi
from catalogue.formats.image_draft import Draft
from catalogue.formats.view import BytesView
from tests.formats.build_rom import driver

HEADER = (
    b"\x55\xaa"
    b"\x03\x00"  # 02h initialisation size: 3 blocks
    b"\xf1\x0e\x00\x00"  # 04h signature
    b"\x0b\x00"  # 08h subsystem: boot-service driver
    b"\x64\x86"  # 0Ah machine: x86-64
    b"\x00\x00"  # 0Ch not compressed
    b"\x00\x00\x00\x00\x00\x00\x00\x00"  # 0Eh reserved
    b"\x40\x00"  # 16h the driver
).ljust(0x40, b"\0")
IMAGE = (HEADER + driver()).ljust(3 * 512, b"\0")


def efi(data: bytes, before: int = 512, length: int = 3 * 512) -> Draft:
    draft = Draft(BytesView(bytes(before) + data), before, length)
    read_efi(draft)
    return draft


def changed(offset: int, value: int) -> bytes:
    return IMAGE[:offset] + struct.pack("<H", value) + IMAGE[offset + 2 :]


def test_every_field():
    draft = efi(IMAGE)
    assert {one.name: (one.value, one.offset, one.length) for one in draft.fields} == {
        "initialisation_size": (1536, 514, 2),
        "efi_signature": (0x0EF1, 516, 4),
        "efi_subsystem": (11, 520, 2),
        "efi_machine": (0x8664, 522, 2),
        "efi_compression": (0, 524, 2),
        "efi_image_offset": (0x40, 534, 2),
    }
    assert (draft.name, draft.used, draft.faults, draft.notes) == ("EFI x86-64", 1536, [], [])


def test_the_driver_is_its_own_part_with_its_place_in_the_piece():
    (part,) = efi(IMAGE).parts
    assert (part.format, part.kind, part.offset) == ("pe", "efi-driver", 512 + 0x40)
    machine = next(one for one in part.fields if one.name == "machine")
    assert (machine.value, machine.offset) == (0x8664, 512 + 0x40 + 0x44)
    assert part.value("subsystem") == 11


@pytest.mark.parametrize(
    ("machine", "name"), [(0xAA64, "EFI AArch64"), (0x0EBC, "EFI byte code"), (7, "EFI machine 0007h")]
)
def test_names(machine: int, name: str):
    assert efi(changed(0x0A, machine)).name == name


def test_a_compressed_driver_is_unread_and_no_fault():
    draft = efi(changed(0x0C, 1))
    assert [(one.code, one.offset) for one in draft.notes] == [("driver-unread", 512 + 0x0C)]
    assert draft.parts == []
    assert draft.faults == []


@pytest.mark.parametrize(
    ("data", "at"),
    [
        (changed(4, 0x0EF0), 4),  # signature
        (changed(2, 0), 2),  # initialisation size 0
        (changed(2, 4), 2),  # initialisation size above the image length
        (changed(0x16, 0x19), 0x16),  # driver inside the header
        (changed(0x16, 1536), 0x16),  # driver behind the initialisation size
        (changed(0x0C, 2), 0x0C),  # compression 2
        (changed(0x0C, 0xFFFF), 0x0C),
        (changed(0x16, 0x48), 0x16),  # no program there
    ],
)
def test_damage(data: bytes, at: int):
    draft = efi(data)
    assert [(one.code, one.offset) for one in draft.faults] == [("rom-damaged", 512 + at)]
    assert not draft.parts


def test_a_driver_inside_the_header_is_damage_even_where_one_stands():
    inside = (changed(0x16, 0x18)[:0x18] + driver()).ljust(3 * 512, b"\0")
    assert [(one.code, one.offset) for one in efi(inside).faults] == [("rom-damaged", 512 + 0x16)]


def test_a_driver_larger_than_its_image_is_damage():
    draft = efi(changed(2, 2))  # 2 blocks hold half of the driver's section
    assert [one.code for one in draft.finish().reading.faults] == ["rom-damaged"]
    assert draft.finish().reading.faults[0].text.startswith("In the driver: ")


def test_a_cut_file_leaves_the_driver_unread():
    assert efi(IMAGE[:-1]).parts == []
