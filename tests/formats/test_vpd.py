"""Vital product data by hand, one field a line (PCI 2.2, appendix I; the example there has the same order of tags)."""

import random

import pytest

from catalogue import formats
from catalogue.formats.view import BytesView
from catalogue.formats.vpd import read
from tests.contracts import battery
from tests.formats.build_vpd import block, keyword, vpd

DATA = (
    b"\x82\x05\x00"  # 00h identifier string, 5 bytes
    b"Heron"
    b"\x90\x17\x00"  # 08h read-only block, 23 bytes
    b"PN\x04H-10"  # 0Bh part number
    b"SN\x05SN017"  # 12h serial number
    b"RV\x02"  # 1Ah checksum and one reserved byte
    b"\xd5"  # 1Dh
    b"\x00"
    b"V0"  # 1Fh the maker's own
    b"\x00"  # no bytes
    b"\x91\x0a\x00"  # 22h read-write block, 10 bytes
    b"Y1\x01\x80"  # 25h the system's own
    b"RW\x03\0\0\0"  # 29h three bytes free
    b"\x78"  # 2Fh end
)


def test_every_field_by_hand():
    assert sum(DATA[:0x1E]) & 0xFF == 0
    reading = formats.read(BytesView(DATA))
    battery.examine(reading, len(DATA))
    assert (reading.format, reading.kind) == ("vpd", "vpd")
    assert reading.title == "Vital product data: Heron, part H-10"
    assert reading.faults == reading.notes == ()
    assert [(one.name, one.value, one.offset, one.length) for one in reading.fields] == [
        ("identifier", "Heron", 3, 5),
        ("PN", "H-10", 0x0E, 4),
        ("SN", "SN017", 0x15, 5),
        ("RV", "D5", 0x1D, 1),
        ("V0", "", 0x22, 0),
        ("Y1", "80", 0x28, 1),
        ("RW", 3, 0x2C, 3),
        ("checksum_ok", True, None, 0),
    ]
    assert [(one.name, one.offset, one.length) for one in reading.spans] == [
        ("identifier", 0, 8),
        ("read-only block", 8, 26),
        ("read-write block", 0x22, 13),
        ("end tag", 0x2F, 1),
    ]


def test_every_flipped_bit_under_the_sum_is_told_or_breaks_the_structure():
    sound = vpd()
    end = sound.index(b"RV\x03") + 4
    for at in range(end):
        for bit in range(8):
            wrong = bytearray(sound)
            wrong[at] ^= 1 << bit
            reading = read(BytesView(bytes(wrong)))
            assert reading is None or reading.faults, (at, bit)


@pytest.mark.parametrize(
    "data",
    [
        b"\x82",
        b"\x82\x00\x00\x78",  # nothing but an end
        b"\x78" * 8,
        vpd(end=b""),  # no end tag
        vpd(end=b"\x79"),
        vpd(more=b"V"),  # keywords that do not fill the block
        vpd(more=b"\x01\x02\x00"),  # no letters
        vpd(name=b"\x01\x02"),
        block(0x90, keyword("PN", b"H-10")) + b"\x78",  # neither sum nor identifier
        block(0x82, b"Heron") + block(0x90, keyword("V0", b"x")) + b"\x78",
        block(0x90, b"RV\x00") + b"\x78",
        vpd().ljust((32 << 10) + 1, b"\xff"),  # longer than any
        b"\x00" + vpd(),
        b"\xff" + vpd(),
    ],
)
def test_what_is_none(data: bytes):
    assert read(BytesView(data)) is None
    assert formats.read(BytesView(data)).kind != "vpd"


def test_a_wrong_sum_and_a_missing_one():
    (fault,) = formats.read(BytesView(vpd(wrong=3))).faults
    assert (fault.code, fault.text) == ("vpd-damaged", "The bytes up to the checksum sum to 03h, not to 0.")
    data = block(0x82, b"Heron") + block(0x90, keyword("SN", b"17")) + b"\x78"
    assert [one.code for one in formats.read(BytesView(data)).faults] == ["vpd-damaged"]


def test_what_lies_behind():
    assert formats.read(BytesView(vpd() + bytes(40))).notes == ()
    (note,) = formats.read(BytesView(vpd() + b"more")).notes
    assert (note.code, note.offset) == ("data-after-end", len(vpd()))


def test_the_same_keyword_again():
    reading = formats.read(BytesView(vpd(more=keyword("V0", b"a") + keyword("V0", b"b"))))
    assert (reading.value("V0"), reading.value("V0_2")) == ("a", "b")


def test_many_keywords():
    data = vpd(more=keyword("V0", b"") * 5_000)
    reading = read(BytesView(data))
    assert reading is not None
    battery.examine(reading, len(data))


def test_nothing_random_is_one():
    """Random bytes behind a tag that begins the format; random lengths that lead to an end."""
    chance = random.Random(7)
    for _ in range(20_000):
        data = bytes([chance.choice((0x82, 0x90, 0x91))]) + bytes([chance.randrange(60), 0]) + chance.randbytes(97)
        assert read(BytesView(data)) is None
