"""DFU suffixes by hand (USB DFU 1.1, appendix B), and against dfu-suffix of Debian's dfu-util."""

import random
import shutil
import subprocess
from pathlib import Path

import pytest

from catalogue import formats
from catalogue.formats.view import BytesView
from tests.contracts import battery
from tests.formats.build_rom import Made as Rom
from tests.formats.build_rom import image
from tests.formats.build_tree import dfu
from tests.reference import debian

FILE = (
    b"\x80\x81\x82"
    b"\x03\x02"  # 3h release of the device: 2.03
    b"\x64\x00"  # 5h product
    b"\x34\xf2"  # 7h vendor
    b"\x00\x01"  # 9h DFU 1.0
    b"UFD"  # Bh
    b"\x10"  # Eh 16 bytes
)


def test_every_field_by_hand():
    data = dfu(b"\x80\x81\x82")
    assert data[:-4] == FILE
    reading = formats.read(BytesView(data))
    battery.examine(reading, len(data))
    assert (reading.format, reading.kind) == ("dfu-file", "dfu-file")
    assert reading.title == "Firmware with a DFU suffix for USB F234:0064"
    assert reading.faults == reading.notes == reading.ids == ()
    assert {one.name: (one.value, one.offset, one.length) for one in reading.fields} == {
        "device_release": (0x203, 3, 2),
        "usb_product": (0x64, 5, 2),
        "usb_vendor": (0xF234, 7, 2),
        "dfu_release": (0x100, 9, 2),
        "signature": ("UFD", 11, 3),
        "suffix_length": (16, 14, 1),
        "crc": (int.from_bytes(data[-4:], "little"), 15, 4),
        "crc_ok": (True, None, 0),
    }
    assert [(one.name, one.offset, one.length) for one in reading.spans] == [("firmware", 0, 3), ("DFU suffix", 3, 16)]


def test_the_firmware_is_read():
    reading = formats.read(BytesView(dfu(image(Rom(blocks=1)))))
    assert reading.kind == "dfu-file"
    (part,) = reading.parts
    assert (part.kind, part.offset, part.length) == ("option-rom/legacy-x86", 0, 512)
    assert reading.ids == part.ids
    assert formats.read(BytesView(dfu(b"Bench notes\n"))).parts[0].kind == "text"


def test_any_device_and_a_wrong_sum():
    reading = formats.read(BytesView(dfu(b"\x80", 0xFFFF, 0xFFFF, wrong=1)))
    assert reading.title == "Firmware with a DFU suffix for any device"
    assert [one.code for one in reading.faults] == ["dfu-damaged"]
    assert reading.value("crc_ok") is False
    assert "USB F234:any" in formats.read(BytesView(dfu(b"\x80", product=0xFFFF))).title


def test_every_flipped_bit_is_told():
    sound = dfu(b"\x80\x81\x82")
    for at in range(len(sound)):
        wrong = bytearray(sound)
        wrong[at] ^= 4
        reading = formats.read(BytesView(bytes(wrong)))
        assert reading.kind != "dfu-file" or reading.faults, at


@pytest.mark.parametrize(
    "data", [b"UFD\x10" + bytes(4), dfu(b"\x80", release=0x200), dfu(b"\x80")[:-5] + b"\xff" + bytes(4)]
)
def test_the_letters_are_no_proof(data: bytes):
    assert formats.read(BytesView(data)).kind == "opaque"


def test_nothing_random_is_one():
    chance = random.Random(3)
    for _ in range(5_000):
        assert formats.read(BytesView(chance.randbytes(40) + b"UFD" + chance.randbytes(5))).kind != "dfu-file"


@pytest.mark.outside
def test_what_dfu_suffix_adds(tmp_path: Path):
    program = shutil.which("dfu-suffix") or debian.program("dfu-util", "usr/bin/dfu-suffix")
    file = tmp_path / "firmware.bin"
    file.write_bytes(b"\x80firmware\x81" * 90)
    command = [program, "-v", "f234", "-p", "0064", "-d", "0203", "-a", str(file)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode and "shared librar" in done.stderr:
        pytest.skip(done.stderr.strip())
    assert done.returncode == 0, done.stderr
    reading = formats.read(BytesView(file.read_bytes()))
    assert reading.kind == "dfu-file"
    assert reading.faults == ()
    named = [reading.value(name) for name in ("usb_vendor", "usb_product", "device_release", "crc_ok")]
    assert named == [0xF234, 0x64, 0x203, True]
