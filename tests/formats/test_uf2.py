"""UF2 files by hand, one field a line (UF2 specification, file format; numbers of tags and flags from memory)."""

import hashlib
import struct

import pytest

from catalogue import formats
from catalogue.formats.uf2 import read
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.contracts import battery
from tests.formats.build_rom import Made as Rom
from tests.formats.build_rom import image
from tests.formats.build_tree import tag, uf2

BLOCK = (
    b"UF2\n"  # 00h first magic number
    b"\x57\x51\x5d\x9e"  # 04h second
    b"\x00\x20\x00\x00"  # 08h flags: family
    b"\x00\x00\x00\x10"  # 0Ch address 10000000h
    b"\x04\x00\x00\x00"  # 10h bytes of data
    b"\x00\x00\x00\x00"  # 14h number
    b"\x01\x00\x00\x00"  # 18h blocks
    b"\x21\x43\x65\x87"  # 1Ch family
    b"\x80\x81\x82\x83"  # 20h data
).ljust(508, b"\0") + b"\x30\x6f\xb1\x0a"


def check(data: bytes) -> Reading:
    reading = formats.read(BytesView(data))
    battery.examine(reading, len(data))
    assert reading.kind == "uf2"
    return reading


def test_every_field_by_hand():
    reading = check(BLOCK)
    assert reading.title == "UF2, 1 block"
    assert reading.faults == reading.notes == ()
    assert {one.name: (one.value, one.offset) for one in reading.fields} == {
        "flags": (0x2000, 8),
        "first_address": (0x10000000, 12),
        "block_count": (1, 24),
        "family": (0x87654321, 28),
        "bytes_loaded": (4, None),
    }
    (part,) = reading.parts
    assert part.value("sha256") == hashlib.sha256(b"\x80\x81\x82\x83").hexdigest()
    assert part.value("first_address") == 0x10000000


def test_the_piece_behind_and_its_version():
    rom = image(Rom(blocks=2))
    reading = check(uf2(rom, tags=tag(0x9FC7BC, b"7.11.00") + tag(0x650D9D, b"Heron")))
    assert (reading.value("firmware_version"), reading.value("device")) == ("7.11.00", "Heron")
    assert (reading.versions[0].value, reading.versions[0].source) == ("7.11.00", "UF2 version tag")
    assert reading.parts[0].value("sha256") == hashlib.sha256(rom).hexdigest()
    assert reading.parts[0].parts[0].kind == "option-rom/legacy-x86"
    assert reading.ids == reading.parts[0].ids != ()


@pytest.mark.parametrize(
    ("data", "text"),
    [
        (uf2(b"\x80" * 600)[:512] + bytes(512) + uf2(b"\x80" * 600)[1024:], "Block 1 has not the magic numbers."),
        (BLOCK[:16] + b"\xff\x01\0\0" + BLOCK[20:], "Block 0 says that it holds 511 bytes."),
        (uf2(b"\x80" * 600)[:1024], "Of 3 blocks 1 are missing."),
        (BLOCK + b"x", "The file ends inside a block."),
    ],
)
def test_faults(data: bytes, text: str):
    assert [one.text for one in check(data).faults] == [text]


def test_notes():
    assert [one.text for one in check(BLOCK + BLOCK).notes] == ["Bytes loaded twice: 4; the later ones count."]
    (note,) = check(BLOCK[:8] + struct.pack("<I", 0x1000) + BLOCK[12:]).notes
    assert note.text == "Blocks that are not for flash: 1; they were not loaded."


def test_much_that_is_wrong_ends_soon():
    reading = check(BLOCK + bytes(512) * 100)
    assert len(reading.faults) == 20
    assert [one.code for one in reading.notes] == ["uf2-odd"]


@pytest.mark.parametrize("at", [4, 511])
def test_one_magic_number_is_no_proof(at: int):
    data = bytearray(BLOCK)
    data[at] ^= 1
    assert read(BytesView(bytes(data))) is None
