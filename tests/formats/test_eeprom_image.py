"""Configuration EEPROM images by a declared layout. The layout is the invented example of the family-file contract."""

from __future__ import annotations

import binascii
import zlib
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.formats.eeprom_image import answer, reading, swapped
from catalogue.formats.eeprom_sums import SUMS
from catalogue.shapes.layout import Layout, LayoutField, LayoutSum

MAGIC = bytes.fromhex("C01208A5")
LAYOUT = Layout(
    name="bittern",
    size=320,
    magic_at=0,
    magic=MAGIC,
    sum=LayoutSum("sum8", 0, 0x140, total=0),
    fields=(
        LayoutField(0x10, "u16le", 2, "mode.vendor"),
        LayoutField(0x12, "u16le", 2, "mode.device"),
        LayoutField(0x40, "u64be", 8, "identity.sas", (0x00, 0xFF)),
        LayoutField(0x60, "ascii", 16, "identity.serial", (0x00, 0x20, 0xFF)),
    ),
)


def image(serial: bytes = b"SM-000417", sas: int = 0x5F23401000000010, layout: Layout = LAYOUT) -> bytes:
    data = bytearray(layout.size)
    data[layout.magic_at : layout.magic_at + len(layout.magic)] = layout.magic
    data[0x10:0x12] = (0xF234).to_bytes(2, "little")
    data[0x12:0x14] = (0x0C81).to_bytes(2, "little")
    data[0x40:0x48] = sas.to_bytes(8, "big")
    data[0x60:0x70] = serial.ljust(16, b"\0")
    data[-1] = -sum(data) & 0xFF
    return bytes(data)


def test_a_sound_image():
    found = answer(image(), LAYOUT)
    assert found.state == "fits"
    assert found.sum_ok is True
    assert dict(found.values) == {
        "mode.vendor": 0xF234,
        "mode.device": 0x0C81,
        "identity.sas": 0x5F23401000000010,
        "identity.serial": "SM-000417",
    }
    assert found.empty == frozenset()
    assert [(one.name, one.offset, one.length) for one in found.fields] == [
        (one.means, one.at, one.length) for one in LAYOUT.fields
    ]
    seen = reading(image(), LAYOUT)
    assert seen is not None
    assert (seen.kind, seen.length, seen.faults) == ("eeprom-image", 320, ())
    assert seen.value("sum_ok") is True
    assert seen.value("magic") == "c01208a5"
    assert [(one.name, one.offset, one.length) for one in seen.spans] == [
        ("magic", 0, 4),
        ("sum_ok", 0, 320),
        *((one.means, one.at, one.length) for one in LAYOUT.fields),
    ]


def test_a_template_leaves_the_identity_empty():
    """A sound kit must stay sound: fields that hold a declared fill are empty, not blank."""
    for fill in (b"\0", b"\xff", b" "):
        data = image(serial=fill * 16, sas=int.from_bytes(b"\xff" * 8))
        found = answer(data, LAYOUT)
        assert found.state == "fits"
        assert found.empty == {"identity.sas", "identity.serial"}
    mixed = answer(image(serial=b"  \0\0\xff"), LAYOUT)
    assert mixed.empty == {"identity.serial"}
    # A number that mixes two fills is a number.
    assert answer(image(sas=0x00FF00FF00FF00FF), LAYOUT).empty == frozenset()
    only = replace(LAYOUT, fields=LAYOUT.fields[2:], sum=None)
    assert answer(image(serial=b"", sas=0), only).state == "fits"


@pytest.mark.parametrize("fill", [0x00, 0xFF])
def test_blank(fill: int):
    """Common practice, no published source: a blank image makes the card vanish from the bus."""
    data = bytes([fill]) * 320
    found = answer(data, LAYOUT)
    assert (found.state, found.sum_ok) == ("blank", None)
    assert answer(data + bytes([fill]), LAYOUT).state == "other"
    assert answer(data[:-1], LAYOUT).state == "other"
    seen = reading(data, LAYOUT)
    assert seen is not None
    assert [(one.code, one.offset) for one in seen.faults] == [("blank", 0)]


def test_blank_in_every_field():
    nearly = bytearray(320)
    nearly[0x90:0x94] = b"junk"
    assert answer(bytes(nearly), LAYOUT).state == "blank"
    under_magic = bytearray(nearly)
    under_magic[0:4] = MAGIC
    assert answer(bytes(under_magic), LAYOUT).state == "blank"
    under_magic[0x10] = 1
    assert answer(bytes(under_magic), LAYOUT).state == "fits"
    no_fields = replace(LAYOUT, fields=())
    assert answer(bytes(nearly), no_fields).state == "other"


@pytest.mark.parametrize("length", [0, 4, 16, 319, 321, 448])
def test_another_size(length: int):
    """Common practice, no published source: the size must fit exactly."""
    data = (image() + bytes(200))[:length]
    found = answer(data, LAYOUT)
    assert found.state == ("size" if length >= 4 else "other")
    assert found.sum_ok is None
    assert all(one.offset is not None and one.offset + one.length <= length for one in found.fields)
    if length >= 4:
        seen = reading(data, LAYOUT)
        assert seen is not None
        assert [one.code for one in seen.faults] == ["wrong-size"]


@pytest.mark.parametrize("copies", [2, 3, 8])
def test_repeated(copies: int):
    assert answer(image() * copies, LAYOUT).state == "repeated"
    assert answer(image() * (copies - 1) + image(b"other"), LAYOUT).state == "size"
    assert answer(image() * copies + b"\0", LAYOUT).state == "size"


@pytest.mark.parametrize("magic_at", [0, 1, 2, 7, 0x90])
@pytest.mark.parametrize("magic", [MAGIC, b"\x12\x34\x56", b"\x12"])
def test_swapped(magic_at: int, magic: bytes):
    layout = replace(LAYOUT, magic_at=magic_at, magic=magic)
    data = image(layout=layout)
    assert answer(data, layout).state == "fits"
    turned = swapped(data)
    assert swapped(turned) == data
    assert turned == b"".join(data[at : at + 2][::-1] for at in range(0, len(data), 2))
    assert answer(turned, layout).state == "swapped"
    assert answer(turned + bytes(2), layout).state == "swapped"
    seen = reading(turned, layout)
    assert seen is not None
    assert [one.code for one in seen.faults] == ["bytes-swapped"]
    assert not seen.fields


@given(st.binary(max_size=400))
def test_swapping_twice_changes_nothing(data: bytes):
    assert swapped(swapped(data)) == data


@given(st.binary(max_size=700), st.sampled_from(["", "magic", "exact"]))
def test_any_bytes_have_an_answer(data: bytes, how: str):
    if how:
        data = MAGIC + data
    if how == "exact":
        data = (data + bytes(320))[:320]
    found = answer(data, LAYOUT)
    assert found.state in {"fits", "size", "swapped", "repeated", "blank", "other"}
    assert (reading(data, LAYOUT) is None) == (found.state == "other")
    if found.state == "fits":
        assert len(data) == LAYOUT.size
        assert data.startswith(MAGIC)
        assert found.sum_ok is (sum(data) % 256 == 0)


def test_a_broken_sum():
    data = bytearray(image())
    data[0x80] ^= 1
    found = answer(bytes(data), LAYOUT)
    assert (found.state, found.sum_ok) == ("fits", False)
    seen = reading(bytes(data), LAYOUT)
    assert seen is not None
    assert [one.code for one in seen.faults] == ["eeprom-sum"]


@pytest.mark.outside
@pytest.mark.parametrize(
    ("kind", "check"),
    [
        ("crc16", 0xBB3D),  # CRC-16/ARC, catalogue of parametrised CRC algorithms (from memory)
        ("crc32", 0xCBF43926),  # CRC-32/ISO-HDLC, the same (from memory)
        ("sum8", 0xDD),  # worked out by hand: 31h + … + 39h = 1DDh
        ("xor8", 0x31),  # worked out by hand: 31h to 38h cancel out, but for 08h, against 39h
        ("sum16le", 0xD4D0 + 0x39 & 0xFFFF),  # 3231h + 3433h + 3635h + 3837h = D4D0h, and the odd 39h
        ("sum16be", 0xD0D4 + 0x3900 & 0xFFFF),  # 3132h + 3334h + 3536h + 3738h = D0D4h, and the odd 39h
    ],
)
def test_check_values(kind: str, check: int):
    assert SUMS[kind][0](b"123456789") == check


@given(st.binary(max_size=300))
def test_sums_against_other_ways_to_add(data: bytes):
    words = data + bytes(len(data) % 2)
    assert SUMS["sum8"][0](data) == sum(data) % 256
    assert (
        SUMS["sum16le"][0](data)
        == sum(int.from_bytes(words[at : at + 2], "little") for at in range(0, len(words), 2)) % 65536
    )
    assert (
        SUMS["sum16be"][0](data)
        == sum(int.from_bytes(words[at : at + 2], "big") for at in range(0, len(words), 2)) % 65536
    )
    assert SUMS["crc32"][0](data) == binascii.crc32(data) == zlib.crc32(data)


@pytest.mark.parametrize("kind", sorted(SUMS))
@pytest.mark.parametrize("stored", [True, False])
def test_declared_sums(kind: str, stored: bool):
    data = bytearray(image())
    function, width = SUMS[kind]
    value = function(bytes(data[8:0x100]))
    declared = LayoutSum(kind, 8, 0x100, None if stored else value, 0x120 if stored else None)
    if stored:
        data[0x120 : 0x120 + width] = value.to_bytes(width, "little")
    layout = replace(LAYOUT, sum=declared)
    assert answer(bytes(data), layout).sum_ok is True
    data[0x20] ^= 0x10
    assert answer(bytes(data), layout).sum_ok is False


@pytest.mark.parametrize(
    "declared",
    [
        None,
        LayoutSum("sum8", 0, 321, 0),
        LayoutSum("sum8", 9, 9, 0),
        LayoutSum("sum8", 0, 8),
        LayoutSum("crc32", 0, 8, at=317),
        LayoutSum("sum9", 0, 8, 0),
    ],
)
def test_sums_that_say_nothing(declared: LayoutSum | None):
    found = answer(image(), replace(LAYOUT, sum=declared))
    assert (found.state, found.sum_ok) == ("fits", None)


@pytest.mark.parametrize(
    ("kind", "want"),
    [
        ("u8", 0x12),
        ("u16le", 0x3412),
        ("u16be", 0x1234),
        ("u32le", 0x78563412),
        ("u32be", 0x12345678),
        ("u64le", 0xF0DEBC9A78563412),
        ("u64be", 0x123456789ABCDEF0),
        ("bytes", "123456789abcdef0"),
        ("ascii", "\x124Vx\\x9a\\xbc\\xde\\xf0"),
    ],
)
def test_kinds_of_fields(kind: str, want: int | str):
    data = bytearray(image())
    data[0x20:0x28] = bytes.fromhex("123456789ABCDEF0")
    layout = replace(LAYOUT, fields=(LayoutField(0x20, kind, 8, "it", (0x12, 999)),))
    assert answer(bytes(data), layout).values["it"] == want
    assert bool(answer(bytes(data), layout).empty) == (kind == "u8")


def test_a_layout_without_magic():
    layout = replace(LAYOUT, magic=b"")
    assert answer(image(), layout).state == "other"
    assert answer(b"", replace(layout, size=0)).state == "other"
    assert answer(image() * 2, replace(LAYOUT, size=0)).state == "size"
