"""FCode programs alone, by hand (IEEE 1275-1994, 5.2.2.5), and what toke of Debian's fcode-utils makes."""

import random
import subprocess
from pathlib import Path

import pytest

from catalogue import formats
from catalogue.formats.fcode import read
from catalogue.formats.view import BytesView
from tests.contracts import battery
from tests.formats.build_rom import fcode_program
from tests.reference import debian

PROGRAM = (
    b"\xf1"  # start1
    b"\x08"  # format
    b"\x01\x0d"  # sum of the bytes behind the header, big-endian
    b"\x00\x00\x00\x0b"  # length: 11 bytes, big-endian
    b"\xff\x0e\x00"
)


def test_every_field_by_hand():
    reading = formats.read(BytesView(PROGRAM))
    battery.examine(reading, len(PROGRAM))
    assert (reading.format, reading.kind, reading.title) == ("fcode", "fcode-program", "FCode program, start1")
    assert {one.name: (one.value, one.offset, one.length) for one in reading.fields} == {
        "start_byte": (0xF1, 0, 1),
        "fcode_format": (8, 1, 1),
        "checksum": (0x10D, 2, 2),
        "fcode_length": (11, 4, 4),
        "checksum_ok": (True, None, 0),
    }
    assert reading.faults == reading.notes == ()


def test_a_wrong_sum_is_told_where_the_length_fits():
    (fault,) = formats.read(BytesView(PROGRAM[:-1] + b"\x01")).faults
    assert (fault.code, fault.offset) == ("fcode-damaged", 2)
    assert read(BytesView(PROGRAM[:-1] + b"\x01more")) is None


def test_what_lies_behind():
    assert formats.read(BytesView(PROGRAM + b"\xff" * 20)).notes == ()
    (note,) = formats.read(BytesView(PROGRAM + b"more")).notes
    assert (note.code, note.offset) == ("data-after-end", 11)


@pytest.mark.parametrize("data", [PROGRAM[:7], PROGRAM[:-1], b"\xf1\x09" + PROGRAM[2:], b"\xf4" + PROGRAM[1:]])
def test_what_is_none(data: bytes):
    assert read(BytesView(data)) is None


@pytest.mark.parametrize("start", [0xF0, 0xF1, 0xF2, 0xF3, 0xFD])
def test_start_bytes(start: int):
    assert formats.read(BytesView(fcode_program(b"\xb7" * 300, start))).kind == "fcode-program"


def test_nothing_random_is_one():
    chance = random.Random(5)
    for _ in range(5_000):
        data = b"\xf1\x08" + chance.randbytes(2) + bytes([0, 0, 0, chance.randrange(60)]) + chance.randbytes(80)
        assert formats.read(BytesView(data)).kind == "opaque"


@pytest.mark.outside
def test_what_toke_makes(tmp_path: Path):
    program = debian.program("fcode-utils", "usr/bin/toke")
    source = tmp_path / "heron.fth"
    source.write_text('fcode-version2\n  " corvane,heron" name\n  : answer 42 ;\nfcode-end\n')
    subprocess.run([program, str(source)], cwd=tmp_path, capture_output=True, check=True)
    data = (tmp_path / "heron.fc").read_bytes()
    reading = formats.read(BytesView(data))
    assert (reading.kind, reading.value("checksum_ok")) == ("fcode-program", True)
    assert reading.faults == ()
    assert reading.value("fcode_length") == len(data)
