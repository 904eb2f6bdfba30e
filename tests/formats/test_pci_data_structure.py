"""The PCI Data Structure by hand, one field a line (PCI Firmware Specification 3.x, 5.1.2)."""

import pytest

from catalogue.formats.limits import MAX_DEVICES
from catalogue.formats.pci_data_structure import find_lost, is_at, read_structure
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import CardId

REVISION_3 = (
    b"PCIR"
    b"\x34\xf2"  # 04h vendor F234h
    b"\x64\x00"  # 06h device 0064h
    b"\x1c\x00"  # 08h device list, from the start of this structure
    b"\x1c\x00"  # 0Ah structure length
    b"\x03"  # 0Ch structure revision
    b"\x01\x07\x02"  # 0Dh programming interface, sub-class, base class
    b"\x04\x00"  # 10h image length: 4 blocks
    b"\x05\x01"  # 12h code revision
    b"\x03"  # 14h code type: EFI
    b"\x80"  # 15h last image
    b"\x02\x00"  # 16h run-time length: 2 blocks
    b"\x10\x00"  # 18h configuration utility header
    b"\x20\x00"  # 1Ah management entry point
)
LIST = (
    b"\x65\x00"  # 0065h
    b"\x66\x00"  # 0066h
    b"\x00\x00"  # end
)


def changed(offset: int, data: bytes, base: bytes = REVISION_3) -> bytes:
    return base[:offset] + data + base[offset + len(data) :]


def structure(data: bytes, before: int = 8, end: int | None = None):
    whole = b"." * before + data
    return read_structure(BytesView(whole), before, len(whole) if end is None else end)


def test_every_field():
    read = structure(REVISION_3 + LIST)
    assert {name: (one.value, one.offset, one.length) for name, one in read.found.items()} == {
        "vendor_id": (0xF234, 0x0C, 2),
        "device_id": (0x0064, 0x0E, 2),
        "list_pointer": (0x1C, 0x10, 2),
        "structure_length": (0x1C, 0x12, 2),
        "structure_revision": (3, 0x14, 1),
        "class_code": (0x020701, 0x15, 3),
        "image_length": (2048, 0x18, 2),
        "code_revision": (0x0105, 0x1A, 2),
        "code_type": (3, 0x1C, 1),
        "indicator": (0x80, 0x1D, 1),
        "runtime_length": (1024, 0x1E, 2),
        "configuration_header": (0x10, 0x20, 2),
        "management_entry": (0x20, 0x22, 2),
    }
    assert read.card == CardId(0xF234, 0x0064, (0x0065, 0x0066), 0x020701)
    assert (read.list_field.value, read.list_field.offset, read.list_field.length) == ((0x65, 0x66), 0x24, 6)
    assert read.last
    assert read.whole
    assert not read.notes


def test_revision_0_has_no_list_whatever_its_pointer():
    """In revision 0 the pointer at 08h led to vital product data."""
    read = structure(changed(0x0C, b"\0") + LIST)
    assert read.devices == ()
    assert read.list_field.offset is None
    assert not read.notes


def test_an_empty_list_and_none():
    assert structure(REVISION_3 + b"\0\0").list_field.length == 2
    assert structure(changed(8, b"\0\0") + LIST).devices == ()


@pytest.mark.parametrize("length", [0x18, 0x1B])
def test_the_later_fields_need_a_long_structure(length: int):
    read = structure(changed(0x0A, bytes([length])) + LIST)
    assert "runtime_length" not in read.found
    assert not read.notes


@pytest.mark.parametrize(
    ("offset", "data", "end", "at"),
    [
        (0x0A, b"\x17\x00", None, 0x12),  # structure length below 18h
        (0x0C, b"\x02", None, 0x14),  # structure revision 2
        (0x08, b"\x17\x00", None, 0x10),  # list pointer into the structure
        (0x08, b"\xff\xff", None, 0x10),  # list pointer out of the file
        (0x08, b"\x1c\x00", 0x25, 0x10),  # list behind the image's end
        (0x08, b"\x1c\x00", 0x28, 0x24),  # list that runs to the image's end
    ],
)
def test_oddities(offset: int, data: bytes, end: int | None, at: int):
    read = structure(changed(offset, data) + LIST, end=end)
    assert [(one.code, one.offset) for one in read.notes] == [("rom-odd", at)]


def test_an_endless_list_is_bounded():
    read = structure(REVISION_3 + b"\x65\x00" * 1000)
    assert len(read.devices) == MAX_DEVICES
    assert [one.offset for one in read.notes] == [0x24]
    closed = structure(REVISION_3 + b"\x65\x00" * MAX_DEVICES + b"\0\0")
    assert len(closed.devices) == MAX_DEVICES
    assert not closed.notes


def test_bit_7_alone_marks_the_last_image():
    assert [structure(changed(0x15, bytes([indicator]))).last for indicator in (0x80, 0xFF, 0x7F, 0)] == [
        True,
        True,
        False,
        False,
    ]


def test_cut_short():
    for length in range(4, 0x18):
        assert not structure(REVISION_3[:length]).whole
    assert structure(REVISION_3[:0x18]).whole


def test_the_signature():
    assert is_at(BytesView(b"..PCIR"), 2)
    assert not is_at(BytesView(b"..PCI"), 2)


def test_a_lost_structure_is_found_where_it_makes_sense():
    lost = b"\x90" * 8 + b"PCIR" + b"\x90" * 24 + REVISION_3
    assert find_lost(lost, 100) == 100 + 36
    assert find_lost(b"\x90" * 8 + b"PCIR", 0) is None
    assert find_lost(b"nothing", 0) is None
    for offset, data in ((0x0A, b"\x17\0"), (0x0A, b"\0\x01"), (0x0C, b"\x02"), (0x14, b"\x04"), (0x10, b"\0\0")):
        assert find_lost(changed(offset, data), 0) is None
    assert find_lost(b"." + REVISION_3, 0) is None
