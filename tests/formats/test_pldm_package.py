"""PLDM packages by hand, one field a line, and by a generator written from DSP0267; CRCs by zlib and by that generator.

No outside reader of the format is in PyPI or Debian (looked for in November 2026). The layout of revision 1 is also
that of the Linux kernel's documentation, driver-api/pldmfw/file-format.
"""

import struct
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue import formats
from catalogue.formats import limits
from catalogue.formats.pldm_package import read
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import CardId, Reading
from tests.contracts import battery
from tests.formats.build_pldm import Component, Device, Made, full, package
from tests.formats.build_rom import Made as Rom
from tests.formats.build_rom import image

HEADER = (
    b"\xf0\x18\x87\x8c\xcb\x7d\x49\x43\x98\x00\xa0\x2f\x05\x9a\xca\x02"
    b"\x01"  # 16 format revision
    b"\x65\x00"  # 17 header size: 101
    b"\xc4\xff"  # 19 UTC offset: -60 minutes
    b"\x00\x00\x00"  # microseconds
    b"\x05\x04\x03\x02\x01"  # second, minute, hour, day, month
    b"\xea\x07"  # year 2026
    b"\x00"  # resolution
    b"\x08\x00"  # 32 component bitmap bits
    b"\x01"  # 34 ASCII
    b"\x03"  # 35 length of the version
    b"1.2"
    b"\x01"  # 39 one device record
    b"\x1b\x00"  # 40 27 bytes
    b"\x02"  # two descriptors
    b"\x01\x00\x00\x00"  # go on after a failure
    b"\x01\x03"  # ASCII, 3 bytes
    b"\x00\x00"  # no package data
    b"\x01"  # component 0 (51)
    b"set"  # 52
    b"\x00\x00\x02\x00\x34\xf2"  # PCI vendor F234h
    b"\x00\x01\x02\x00\x64\x00"  # PCI device 0064h
    b"\x01\x00"  # 67 one component
    b"\x0a\x00"  # 69 classification: firmware
    b"\x07\x00"  # identifier
    b"\xff\xff\xff\xff"  # comparison stamp
    b"\x01\x00"  # options
    b"\x20\x00"  # activation
    b"\x65\x00\x00\x00"  # location: 101
    b"\x05\x00\x00\x00"  # size
    b"\x01\x06v3.4.5"
)


def test_every_field_by_hand():
    """The header's records end where its size says, every value at its offset."""
    data = HEADER + struct.pack("<I", zlib.crc32(HEADER)) + b"\x80\x81\x82\x83\x84"
    reading = formats.read(BytesView(data))
    battery.examine(reading, len(data))
    assert (reading.format, reading.kind) == ("pldm-package", "pldm-package")
    assert reading.faults == reading.notes == ()
    assert {one.name: (one.value, one.offset, one.length) for one in reading.fields} == {
        "identifier": ("F018878C-CB7D-4943-9800-A02F059ACA02", 0, 16),
        "format_revision": (1, 16, 1),
        "header_size": (101, 17, 2),
        "release_date": ("2026-01-02T03:04:05-01:00", 19, 13),
        "component_bitmap_bits": (8, 32, 2),
        "version_string_type": (1, 34, 1),
        "version_string_length": (3, 35, 1),
        "package_version": ("1.2", 36, 3),
        "device_record_count": (1, 39, 1),
        "component_count": (1, 67, 2),
        "header_crc": (zlib.crc32(HEADER), 97, 4),
        "header_crc_ok": (True, None, 0),
    }
    device, one = reading.parts
    assert {field.name: (field.value, field.offset) for field in device.fields} == {
        "record_length": (27, 40),
        "descriptor_count": (2, 42),
        "option_flags": (1, 43),
        "version_string_type": (1, 47),
        "version_string_length": (3, 48),
        "package_data_length": (0, 49),
        "applicable_components": ((0,), 51),
        "component_set_version": ("set", 52),
        "pci_vendor": (0xF234, 59),
        "pci_device": (0x64, 65),
    }
    assert {field.name: (field.value, field.offset) for field in one.fields} == {
        "classification": (10, 69),
        "identifier": (7, 71),
        "comparison_stamp": (0xFFFFFFFF, 73),
        "options": (1, 77),
        "activation": (0x20, 79),
        "location": (101, 81),
        "size": (5, 85),
        "version_string_type": (1, 89),
        "version_string_length": (6, 90),
        "version": ("v3.4.5", 91),
    }
    assert (one.offset, one.length, one.title) == (101, 5, "Component 0, firmware, version v3.4.5")
    assert reading.ids == (CardId(0xF234, 0x64),)
    assert [(claim.value, claim.source, claim.offset) for claim in reading.versions] == [
        ("1.2", "PLDM package version", 36),
        ("set", "PLDM device 0, component set version", 52),
        ("v3.4.5", "PLDM component 0, version", 91),
    ]
    assert [(span.name, span.offset, span.length) for span in reading.spans] == [
        ("header", 0, 101),
        ("component 0", 101, 5),
    ]


def made(one: Made) -> Reading:
    data = package(one)
    reading = read(BytesView(data))
    assert reading is not None
    battery.examine(reading, len(data))
    return reading


@pytest.mark.parametrize("revision", [1, 2, 3, 4])
def test_every_revision(revision: int):
    reading = read(BytesView(full(revision)))
    assert reading is not None
    assert reading.faults == reading.notes == ()
    kinds = [part.kind for part in reading.parts]
    downstream = ["pldm-downstream-record"] if revision >= 2 else []
    assert kinds == ["pldm-device-record"] * 2 + downstream + ["pldm-component"] * 2
    device = reading.parts[0]
    values = {one.name: one.value for one in device.fields}
    assert values["iana_enterprise"] == 32473
    assert values["uuid"] == "00010203-0405-0607-0809-0A0B0C0D0E0F"
    assert (values["pci_subsystem_vendor"], values["pci_subsystem"], values["pci_revision"]) == (0xF234, 0x1001, 2)
    assert (values["makers_own"], values["makers_own_2"]) == ("Slot: aabb", ": 01")
    assert (values["package_data"], values["applicable_components"]) == ("0102", (0, 1))
    assert values.get("manifest") == ("030405" if revision >= 4 else None)
    if revision >= 2:
        behind = {one.name: one.value for one in reading.parts[2].fields}
        assert (behind["least_version"], behind["comparison_stamp"]) == ("v1", 0x01020304)
        assert behind["applicable_components"] == (1,)
    first, second = reading.parts[-2:]
    assert first.value("opaque_data") == ("09" if revision >= 3 else None)
    assert (second.value("version"), second.value("activation")) == ("7.11", 0x21)
    assert reading.value("header_crc_ok") is True
    assert reading.value("payload_crc_ok") is (True if revision >= 4 else None)


@pytest.mark.parametrize("revision", [1, 2, 3, 4])
def test_a_flipped_bit_anywhere_is_a_fault(revision: int):
    """Header bits by the header's CRC; from revision 4 the components' too, by the payload's."""
    data = full(revision)
    size = int.from_bytes(data[17:19], "little")
    for at in range(16, len(data) if revision >= 4 else size):
        wrong = bytearray(data)
        wrong[at] ^= 0x10
        reading = read(BytesView(bytes(wrong)))
        assert reading is not None
        assert reading.faults, at


@pytest.mark.parametrize(
    ("one", "code", "text"),
    [
        (Made(2, uuid="f018878c-cb7d-4943-9800-a02f059aca02"), "pldm-damaged", "The identifier is that of"),
        (Made(set={16: b"\x05"}), "pldm-damaged", "Format revision 5"),
        (Made(bits=12), "pldm-damaged", "The component bitmap has 12 bits"),
        (Made(bits=0, devices=(Device(bitmap=0),)), "pldm-damaged", "The component bitmap has 0 bits"),
        (Made(header_crc=1), "pldm-damaged", "The header's CRC-32"),
        (Made(4, payload_crc=1), "pldm-damaged", "The payload's CRC-32"),
        (Made(extra=b"\0\0"), "pldm-damaged", "The header's records end at"),
        (Made(devices=(Device(longer=1),)), "pldm-damaged", "The record of device 0"),
        (Made(devices=(Device(longer=9000),)), "pldm-damaged", "The record of device 0 does not lie whole"),
        (Made(components=(Component(location=5),)), "pldm-damaged", "Component 0 begins inside the header"),
        (Made(components=(Component(size=99),)), "cut-short", "The file ends before component 0 does"),
        (Made(longer=400), "cut-short", "The file ends inside the header"),
    ],
)
def test_faults(one: Made, code: str, text: str):
    found = [(fault.code, fault.text) for fault in made(one).faults]
    assert any(have == code and said.startswith(text) for have, said in found), found


@pytest.mark.parametrize(
    ("one", "code", "text"),
    [
        (Made(kind=1, version=b"\xff"), "pldm-odd", "The package's version is no ascii text"),
        (Made(kind=9), "pldm-odd", "The package's version has a string of type 9"),
        (Made(behind=b"behind"), "data-after-end", "Bytes lie behind the package"),
        (Made(before=b"before"), "pldm-odd", "Bytes lie between its components"),
        (Made(devices=(Device(((0, b"\1"),)),)), "pldm-odd", "The record of device 0: its descriptor 0000h has 1"),
        (Made(devices=(Device(((0xFFFF, b"\1\7"),)),)), "pldm-odd", "The record of device 0: its descriptor FFFFh"),
    ],
)
def test_notes(one: Made, code: str, text: str):
    reading = made(one)
    assert not reading.faults
    assert [(note.code, note.text[: len(text)]) for note in reading.notes] == [(code, text)]


def test_a_version_of_unknown_type_is_no_fault():
    reading = made(Made(kind=0, version=b"1.2\0"))
    assert reading.faults == reading.notes == ()
    assert reading.versions[0].value == "1.2"


def test_padding_behind_is_none():
    assert made(Made(behind=bytes(64))).notes == ()


def test_a_component_is_read():
    """A component that is an option ROM has the ROM's reading, its offsets counted in the package."""
    reading = made(Made(components=(Component(image(Rom(blocks=1))),)))
    (rom,) = reading.parts[-1].parts
    assert rom.kind == "option-rom/legacy-x86"
    assert rom.offset == reading.parts[-1].value("location")
    assert reading.parts[-1].ids == rom.ids


def test_packages_in_packages_end():
    """Each level is read until the bound on depth; the rest is bytes."""
    data = b"bytes"
    for _ in range(limits.MAX_INNER_DEPTH + 3):
        data = package(Made(components=(Component(data),)))
    reading = read(BytesView(data))
    depth = 0
    while reading is not None and reading.parts:
        depth += 1
        reading = reading.parts[-1].parts[0] if reading.parts[-1].parts else None
    assert depth == limits.MAX_INNER_DEPTH + 1


def test_many_components_that_are_the_whole_file():
    """Hostile: 1,500 components, each the same bytes. What is read of them all together is bounded."""
    inner = image(Rom(blocks=16))
    one = Component(b"", location=42_000, size=len(inner), version=b"")
    many = (one,) * 1_500
    data = package(Made(bits=0x600, components=many, before=b""))
    data = data.ljust(42_000, b"\0") + inner
    view = battery.CountingView(data)
    reading = read(view)
    assert reading is not None
    battery.examine(reading, len(data))
    assert len(reading.parts) == limits.MAX_PARTS
    assert view.given < 80 * len(data)


def test_a_bad_date_is_shown_as_it_is():
    assert made(Made(date=b"\0" * 13)).value("release_date") == ""
    assert made(Made(date=b"\0" * 8 + b"\x63\x63\0\0\0")).value("release_date") == "00000000000000006363000000"
    assert made(Made()).value("release_date") == "2026-12-31T23:58:59.123456+01:00"


@given(
    st.integers(1, 4),
    st.lists(st.tuples(st.integers(0, 0xFFFF), st.binary(max_size=20)), max_size=4),
    st.lists(st.binary(min_size=1, max_size=40), max_size=4),
    st.text(st.characters(min_codepoint=32, max_codepoint=0x2FF, exclude_categories=("Cs",)), max_size=20),
)
def test_what_was_written_is_read(revision: int, descriptors, parts: list[bytes], version: str):
    components = tuple(Component(one, version.encode("utf-8"), 2) for one in parts)
    one = Made(revision, devices=(Device(tuple(descriptors)),), components=components)
    reading = made(one)
    assert not [fault for fault in reading.faults if fault.code == "pldm-damaged"]
    data = package(one)
    assert reading.value("header_crc_ok") is True
    assert len(reading.parts) == 1 + len(parts)
    for part, raw in zip(reading.parts[1:], parts, strict=True):
        assert data[part.offset : part.offset + part.length] == raw
        assert part.value("version") in (version, None)
