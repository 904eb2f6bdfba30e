"""Capsules by hand, one field a line (UEFI Specification 8.5.3.1, 23.3.2). Others' capsules: tests/reference."""

import struct

import pytest

from catalogue import formats
from catalogue.formats import capsule_dependency
from catalogue.formats.capsule import read
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.contracts import battery
from tests.formats.build_capsule import IMAGE_TYPE, Made, Payload, capsule, edk2_header, signed
from tests.formats.build_pe import pe
from tests.formats.build_rom import Made as Rom
from tests.formats.build_rom import image

HEX = (
    b"\xed\xd5\xcb\x6d\x2d\xe8\x44\x4c\xbd\xa1\x71\x94\x19\x9a\xd9\x2a"
    b"\x20\x00\x00\x00"  # 10h header size
    b"\x02\x00\x05\x00"  # 14h flags: kept over a reset, resets; 2 by the GUID
    b"\x66\x00\x00\x00"  # 18h capsule size: 102
    b"\x00\x00\x00\x00"  # up to the header size
    b"\x01\x00\x00\x00"  # 20h version of the list
    b"\x00\x00\x01\x00"  # no driver, one payload
    b"\x10\x00\x00\x00\x00\x00\x00\x00"  # 28h the payload at 30h
    b"\x03\x00\x00\x00"  # 30h version of its header
    b"\x10\x00\x34\xf2\x01\x00\x02\x40\x80\x03\x00\x00\x00\x00\x00\x64"
    b"\x02"  # 44h image index
    b"\x00\x00\x00"
    b"\x04\x00\x00\x00"  # 48h image size
    b"\x02\x00\x00\x00"  # 4Ch the maker's own
    b"\x09\x00\x00\x00\x00\x00\x00\x00"  # 50h hardware instance
    b"\x00\x00\x00\x00\x00\x00\x00\x00"  # 58h capabilities
    b"\x80\x81\x82\x83"  # 60h the image
    b"\xaa\xbb"
)


def test_every_field_by_hand():
    reading = formats.read(BytesView(HEX))
    battery.examine(reading, len(HEX))
    assert (reading.format, reading.kind) == ("capsule", "capsule")
    assert reading.title == "UEFI capsule, firmware management; payloads: 1"
    assert reading.faults == reading.notes == ()
    assert {one.name: (one.value, one.offset, one.length) for one in reading.fields} == {
        "capsule_guid": ("6DCBD5ED-E82D-4C44-BDA1-7194199AD92A", 0, 16),
        "header_size": (0x20, 16, 4),
        "flags": (0x50002, 20, 4),
        "capsule_size": (102, 24, 4),
        "persist_across_reset": (True, 20, 4),
        "populate_system_table": (False, 20, 4),
        "initiate_reset": (True, 20, 4),
        "item_header_version": (1, 0x20, 4),
        "driver_count": (0, 0x24, 2),
        "payload_count": (1, 0x26, 2),
        "item_offsets": ((0x10,), 0x28, 8),
    }
    (part,) = reading.parts
    assert (part.offset, part.length) == (0x30, 54)
    assert {one.name: (one.value, one.offset, one.length) for one in part.fields} == {
        "payload_version": (3, 0x30, 4),
        "image_type": ("F2340010-0001-4002-8003-000000000064", 0x34, 16),
        "image_index": (2, 0x44, 1),
        "image_size": (4, 0x48, 4),
        "vendor_code_size": (2, 0x4C, 4),
        "hardware_instance": (9, 0x50, 8),
        "capabilities": (0, 0x58, 8),
        "authenticated": (False, None, 0),
        "signed_by": ((), None, 0),
        "firmware_offset": (0x60, None, 0),
    }
    assert [(one.name, one.offset, one.length) for one in reading.spans] == [
        ("capsule header", 0, 0x20),
        ("list of items", 0x20, 0x10),
        ("payload 0, header", 0x30, 0x30),
        ("payload 0, image", 0x60, 4),
        ("payload 0, the maker's own", 0x64, 2),
    ]


def made(one: Made) -> Reading:
    data = capsule(one)
    reading = read(BytesView(data))
    assert reading is not None
    battery.examine(reading, len(data))
    return reading


@pytest.mark.parametrize(("version", "size"), [(1, 32), (2, 40), (3, 48)])
def test_each_version_of_the_payload_header(version: int, size: int):
    reading = made(Made(payloads=(Payload(b"\x80" * 9, version, b"own", 3, 5),)))
    assert not reading.faults
    (part,) = reading.parts
    assert part.length == size + 9 + 3
    assert part.value("image_type") == IMAGE_TYPE.upper()
    assert part.value("hardware_instance") == (5 if version >= 2 else None)


def test_signature_dependencies_and_firmware():
    rom = image(Rom(blocks=1))
    guid = bytes(range(16))
    depends = b"\x00" + guid + b"\x01\x05\x00\x00\x00\x0a" + b"\x02seven\0\x05\x03\x0d"
    body = signed(depends + edk2_header(0x00010002, 0x00010000, rom))
    reading = made(Made(payloads=(Payload(body, capabilities=3),)))
    assert reading.faults == ()
    (part,) = reading.parts
    assert part.value("authenticated") is True
    assert part.value("monotonic_count") == 7
    assert part.value("certificate_guid") == "4AAFD29D-68DF-49EE-8AA9-347D375665A7"
    words = ("03020100-0504-0706-0809-0A0B0C0D0E0F", "0x00000005", ">=", "seven", "not", "and")
    assert part.value("dependencies") == words
    assert (part.value("firmware_version"), part.value("lowest_supported_version")) == (0x10002, 0x10000)
    inner, damaged = part.parts
    assert [one.code for one in damaged.faults] == ["signature-damaged"]
    assert inner.kind == "option-rom/legacy-x86"
    assert inner.offset == part.value("firmware_offset")
    data = capsule(Made(payloads=(Payload(body, capabilities=3),)))
    assert data[inner.offset : inner.offset + inner.length] == rom
    assert reading.ids == inner.ids
    assert ("0x00010002", "capsule payload 0, firmware version") in [(c.value, c.source) for c in reading.versions]


def test_a_signature_is_believed_only_where_the_capabilities_allow_it():
    assert made(Made(payloads=(Payload(signed(b"x"), 2),))).parts[0].value("authenticated") is True
    assert made(Made(payloads=(Payload(signed(b"x"), 3, capabilities=0),))).parts[0].value("authenticated") is False


def test_drivers():
    reading = made(Made(drivers=(pe(), pe())))
    assert [part.kind for part in reading.parts] == ["efi-driver", "efi-driver", "capsule-payload"]
    assert reading.parts[1].offset - reading.parts[0].offset == len(pe())
    assert not reading.faults


@pytest.mark.parametrize(
    ("one", "code", "text"),
    [
        (Made(header=8, content=b"", size=28), "capsule-damaged", "The header size, 8"),
        (Made(size=4000), "cut-short", "The file ends after"),
        (Made(list_version=2), "capsule-damaged", "Version 2 of the list"),
        (Made(offsets=(4,)), "capsule-damaged", "Item 0 would begin outside"),
        (Made(offsets=(1 << 63,)), "capsule-damaged", "Item 0 would begin outside"),
        (Made(offsets=(18,)), "capsule-damaged", "Payload 0"),
        (Made(drivers=(b"no program",)), "capsule-damaged", "Driver 0 is no EFI program"),
        (Made(payloads=(Payload(size=99),)), "cut-short", "The capsule ends before payload 0"),
        (Made(payloads=(Payload(index=0),)), "capsule-damaged", "Payload 0 has image index 0"),
        (Made(payloads=(Payload(version=0),)), "capsule-damaged", "Payload 0 has version 0"),
        (Made(content=b"\x01\0\0\0"), "cut-short", "The capsule ends inside the header of its items"),
        (Made(content=struct.pack("<IHH", 1, 0, 9)), "cut-short", "The capsule ends inside the list"),
    ],
)
def test_faults(one: Made, code: str, text: str):
    data = capsule(one)
    if one.header < 28:
        data = data[:16] + struct.pack("<III", 8, 0, len(data))
    reading = read(BytesView(data))
    assert reading is not None
    found = [(fault.code, fault.text[: len(text)]) for fault in reading.faults]
    assert (code, text) in found


@pytest.mark.parametrize(
    ("one", "code", "text"),
    [
        (Made(behind=b"more"), "data-after-end", "Bytes lie behind"),
        (Made(payloads=(Payload(version=4),)), "capsule-odd", "Payload 0 has version 4"),
        (Made(payloads=(Payload(capabilities=1),)), "capsule-odd", "Payload 0 should begin with a signature"),
        (Made(payloads=(Payload(b"\x55", capabilities=2),)), "capsule-odd", "The dependencies of payload 0"),
    ],
)
def test_notes(one: Made, code: str, text: str):
    reading = made(one)
    assert not reading.faults
    assert [(note.code, note.text[: len(text)]) for note in reading.notes] == [(code, text)]


def test_padding_behind_is_none():
    assert made(Made(behind=b"\xff" * 32)).notes == ()


def test_another_guid_needs_a_size_that_fits():
    rom = image(Rom(blocks=1))
    sound = capsule(Made("f2340011-0001-4002-8003-000000000064", content=rom))
    reading = formats.read(BytesView(sound))
    assert (reading.kind, reading.parts[0].kind) == ("capsule", "option-rom/legacy-x86")
    assert formats.read(BytesView(sound + b"\x80")).kind != "capsule"
    assert formats.read(BytesView(sound[:20] + b"\0\0\x10\0" + sound[24:])).kind != "capsule"
    assert formats.read(BytesView(bytes(24) + struct.pack("<I", 60) + bytes(32))).kind == "opaque"


@pytest.mark.parametrize("raw", [b"", b"\x03\x04", b"\x02open", b"\x0f\x0d", b"\x03" * 5_000 + b"\x0d"])
def test_dependencies_without_end(raw: bytes):
    assert capsule_dependency.read(BytesView(raw), 0) is None


def test_many_items_that_are_the_same():
    """Hostile: 60,000 items with one offset. All are bounded together."""
    data = bytearray(capsule(Made(payloads=(Payload(image(Rom(blocks=8))),))))
    content = struct.pack("<IHH", 1, 0, 60_000) + struct.pack("<Q", 8 + 8 * 60_000) * 60_000 + bytes(data[0x2C:])
    data = bytearray(data[:24]) + struct.pack("<I", 28 + len(content)) + content
    reading = read(BytesView(bytes(data)))
    assert reading is not None
    battery.examine(reading, len(data))
