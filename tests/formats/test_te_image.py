"""TE images by hand, one field a line (PI Specification, volume 1, chapter 15)."""

import struct

import pytest

from catalogue.formats import te_image
from catalogue.formats.view import BytesView
from tests.contracts import battery
from tests.formats.build_rom import te

IMAGE = (
    b"VZ"
    b"\x64\xaa"  # 02h machine: AArch64
    b"\x01"  # 04h sections
    b"\x0c"  # 05h subsystem: run-time driver
    b"\xb8\x01"  # 06h stripped: 1B8h bytes
    b"\x34\x12\x00\x00"  # 08h entry point
    b"\x00\x10\x00\x00"  # 0Ch code
    b"\x00\x00\x01\x00\x00\x00\x00\x00"  # 10h image base
    b"\x00\x20\x00\x00\x0c\x00\x00\x00"  # 18h base relocations
    b"\x00\x30\x00\x00\x1c\x00\x00\x00"  # 20h debug directory
    b".text\0\0\0"
    b"\x08\x00\x00\x00\x00\x10\x00\x00"  # memory size, address
    b"\x08\x00\x00\x00\x00\x02\x00\x00"  # 8 bytes at 200h of the PE image: 200h - 1B8h + 40 = 70h here
    + bytes(16)
    + bytes(0x70 - 80)
    + b"\xc3" * 8
)


def test_every_field():
    reading = te_image.read(BytesView(IMAGE))
    assert reading is not None
    assert (reading.format, reading.kind, reading.length) == ("te", "efi-driver", len(IMAGE))
    assert reading.title == "EFI run-time driver, AArch64, TE"
    assert {one.name: (one.value, one.offset, one.length) for one in reading.fields} == {
        "machine": (0xAA64, 2, 2),
        "section_count": (1, 4, 1),
        "subsystem": (12, 5, 1),
        "stripped_size": (0x1B8, 6, 2),
        "entry_point": (0x1234, 8, 4),
        "code_base": (0x1000, 12, 4),
        "image_base": (0x10000, 16, 8),
        "relocations_address": (0x2000, 24, 4),
        "relocations_size": (12, 28, 4),
        "debug_address": (0x3000, 32, 4),
        "debug_size": (28, 36, 4),
    }
    assert [(one.name, one.offset, one.length) for one in reading.spans] == [
        ("headers", 0, 80),
        ("section .text", 0x70, 8),
    ]
    assert reading.faults == ()


def test_a_subsystem_and_a_machine_of_no_name():
    reading = te_image.read(BytesView(IMAGE[:2] + b"\x07\x00" + IMAGE[4:5] + b"\x63" + IMAGE[6:]))
    assert reading is not None
    assert (reading.kind, reading.title) == ("opaque", "image for subsystem 99, machine 0007h, TE")


@pytest.mark.parametrize("length", range(len(IMAGE)))
def test_every_prefix(length: int):
    reading = te_image.read(BytesView(IMAGE[:length]))
    if length < 40:
        assert reading is None
        return
    assert reading is not None
    battery.examine(reading, length)
    assert [(one.code, one.offset) for one in reading.faults] == [("cut-short", 40 if length < 80 else 56)]


def test_a_section_in_the_headers():
    reading = te_image.read(BytesView(IMAGE[:60] + struct.pack("<I", 0x1B8) + IMAGE[64:]))
    assert reading is not None
    assert [(one.code, one.offset) for one in reading.faults] == [("cut-short", 56)]


def test_a_section_without_bytes():
    reading = te_image.read(BytesView(IMAGE[:56] + bytes(8) + IMAGE[64:]))
    assert reading is not None
    assert (reading.faults, [one.name for one in reading.spans]) == ((), ["headers"])


def test_other_bytes():
    assert te_image.read(BytesView(b"MZ" + IMAGE[2:])) is None


def test_the_builder_s():
    reading = te_image.read(BytesView(te()))
    assert reading is not None
    assert (reading.kind, reading.faults) == ("efi-driver", ())
    assert reading.spans[-1].length == 0x200
