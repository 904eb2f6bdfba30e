"""FCode programs by hand, one field a line (IEEE 1275-1994, FCode program header; PCI binding)."""

import pytest

from catalogue.formats.image_draft import Draft
from catalogue.formats.open_firmware import read_program
from catalogue.formats.view import BytesView
from tests.formats.build_rom import fcode_program

HEADER = (
    b"\x55\xaa\x20\x00"  # 02h the FCode program
).ljust(0x20, b"\0")
PROGRAM = (
    b"\xf1"  # start1
    b"\x08"  # format
    b"\x01\x0d"  # sum of the bytes behind the header, big-endian
    b"\x00\x00\x00\x0b"  # length: 11 bytes, big-endian
    b"\xff\x0e\x00"  # three bytes
)


def program(image: bytes, before: int = 512) -> Draft:
    draft = Draft(BytesView(bytes(before) + image), before, len(image))
    read_program(draft)
    return draft


def test_every_field():
    draft = program(HEADER + PROGRAM)
    assert [(one.name, one.value, one.offset, one.length) for one in draft.fields] == [("fcode_offset", 0x20, 514, 2)]
    (part,) = draft.parts
    assert {one.name: one.value for one in part.fields} == {
        "start_byte": 0xF1,
        "fcode_format": 8,
        "checksum": 0x010D,
        "fcode_length": 11,
        "checksum_ok": True,
    }
    assert (part.kind, part.title, part.offset, part.length) == ("fcode-program", "FCode program, start1", 544, 11)
    assert not draft.faults


@pytest.mark.parametrize("start", [0xF0, 0xF1, 0xF2, 0xF3, 0xFD])
def test_start_bytes(start: int):
    assert program(HEADER + fcode_program(b"\xb7" * 300, start)).parts[0].value("checksum_ok") is True


@pytest.mark.parametrize(
    ("image", "at"),
    [
        (HEADER + b"\x90" + PROGRAM[1:], 2),  # no start byte
        (HEADER[:2] + b"\0\0" + HEADER[4:] + PROGRAM, 2),  # pointer 0
        (HEADER[:2] + b"\xff\xff" + HEADER[4:] + PROGRAM, 2),  # pointer out of the image
        (HEADER + PROGRAM[:7], 2),  # header cut off
        (HEADER + PROGRAM[:-1], 0x24),  # program longer than its image
        (HEADER + PROGRAM[:7] + b"\x07" + PROGRAM[8:], 0x24),  # length below the header's
        (HEADER + PROGRAM[:-1] + b"\x01", 0x22),  # wrong sum
    ],
)
def test_damage(image: bytes, at: int):
    assert [(one.code, one.offset) for one in program(image).faults] == [("rom-damaged", 512 + at)]
