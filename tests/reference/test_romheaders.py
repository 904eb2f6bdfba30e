"""Option ROMs against `romheaders`, and FCode against `toke`, both of Debian's `fcode-utils`.

`romheaders` prints the header and the PCI Data Structure of each image of a ROM; it knows no ISA-style ROM, and it
calls the field at 08h "Vital Product Data" in every revision. `toke` makes FCode programs with their own sum.
"""

from __future__ import annotations

import re
import struct
import subprocess
from collections.abc import Mapping
from pathlib import Path

import pytest

from catalogue import formats
from catalogue.formats.view import BytesView
from tests.formats.build_rom import Made, efi, image, rom
from tests.reference import debian
from tests.reference.test_debian_roms import FOLDERS, roms

pytestmark = pytest.mark.outside

LABELS = {
    "Vendor ID": "vendor_id",
    "Device ID": "device_id",
    "Vital Product Data": "list_pointer",
    "PCI Data Structure Length": "structure_length",
    "PCI Data Structure Revision": "structure_revision",
    "Class Code": "class_code",
    "Revision Level of Code/Data": "code_revision",
    "Code Type": "code_type",
    "Last-Image Flag": "last_image",
    "Pointer to PCI Data Structure": "pcir_offset",
}
SIZES = {"Image Length": "image_length", "Initialization Size": "initialisation_size"}
"""Printed in blocks and in bytes."""


@pytest.fixture(scope="module")
def romheaders() -> str:
    return debian.program("fcode-utils", "usr/bin/romheaders")


@pytest.fixture(scope="module")
def toke() -> str:
    return debian.program("fcode-utils", "usr/bin/toke")


def printed(romheaders: str, path: Path) -> list[dict[str, int]]:
    """What `romheaders` says of each image, under our names."""
    done = subprocess.run([romheaders, str(path)], capture_output=True, encoding="latin-1", timeout=60, check=False)
    found: list[dict[str, int]] = []
    for line in done.stdout.splitlines():
        if re.match(r"Image \d+", line):
            found.append({})
        match = re.match(r"\s+([\w/ -]+):\s+0x([0-9a-f]+)(?:.*\((\d+) bytes\))?", line)
        if match and match[1] in LABELS:
            found[-1][LABELS[match[1]]] = int(match[2], 16)
        elif match and match[1] in SIZES:
            found[-1][SIZES[match[1]]] = int(match[3])
    return found


def compare(theirs: list[dict[str, int]], data: bytes) -> None:
    reading = formats.read(BytesView(data))
    assert len(theirs) == len(reading.parts)
    for image_said, part in zip(theirs, reading.parts, strict=True):
        assert len(image_said) >= len(LABELS) + 1
        assert {name: _plain(part.value(name), name) for name in image_said} == image_said


def _plain(value: object, name: str) -> object:
    return (0x80 if value else 0) if name == "last_image" else value


@pytest.mark.parametrize("package", FOLDERS)
def test_every_debian_rom(package: str, romheaders: str):
    compared = 0
    for path in roms(package):
        data = path.read_bytes()
        if struct.unpack_from("<H", data, 0x18)[0]:  # it reads no ISA-style ROM
            compare(printed(romheaders, path), data)
            compared += 1
    assert compared >= 7


MADE: Mapping[str, bytes] = {
    "legacy": image(Made(devices=(0x65, 0x66))),
    "old": image(Made(revision=0)),
    "all": rom(Made(last=False), Made(code_type=1, last=False, pcir_at=0x1E), Made(code_type=2, last=False), efi()),
}


@pytest.mark.parametrize("name", MADE)
def test_roms_made_here(name: str, romheaders: str, tmp_path: Path):
    path = tmp_path / f"{name}.rom"
    path.write_bytes(MADE[name])
    compare(printed(romheaders, path), MADE[name])


FORTH = """\
fcode-version2
hex
" heron" device-name
pci-header
: twice ( n -- n ) 2* ;
h# 1234 twice drop
fcode-end
"""
PCI_FORTH = """\
tokenizer[
  hex
  f234      \\ vendor
  0064      \\ device
  010700    \\ class
  pci-header
  0102 pci-code-revision
]tokenizer
fcode-version2
hex
" heron" device-name
: twice ( n -- n ) 2* ;
fcode-end
pci-end
"""


def tokenized(toke: str, source: str, folder: Path) -> bytes:
    (folder / "made.fth").write_text(source)
    made = folder / "made.fc"
    done = subprocess.run([toke, "-o", str(made), "made.fth"], cwd=folder, capture_output=True, text=True, check=False)
    assert made.exists(), done.stdout + done.stderr
    return made.read_bytes()


@pytest.mark.parametrize("start", ["fcode-version1", "fcode-version2", "fcode-version3"])
def test_fcode_of_toke(start: str, toke: str, tmp_path: Path):
    """The program's start byte, length and sum, as `toke` wrote them, inside an image of ours."""
    program = tokenized(toke, FORTH.replace("fcode-version2", start).replace("pci-header\n", ""), tmp_path)
    data = image(Made(code_type=1, extra={0x100: program.ljust(256, b"\0")}))
    reading = formats.read(BytesView(data))
    assert reading.kind == "option-rom/open-firmware"
    assert not reading.faults
    (part,) = reading.parts[0].parts
    assert part.value("start_byte") == program[0]
    assert part.value("fcode_length") == len(program)
    assert part.value("checksum_ok") is True
    broken = data.replace(b"heron", b"Heron")
    assert [one.code for one in formats.read(BytesView(broken)).faults] == ["rom-damaged"]


def test_a_whole_rom_of_toke(toke: str, romheaders: str, tmp_path: Path):
    """`toke` writes the PCI header too: every field is what its source says, and what `romheaders` reads."""
    data = tokenized(toke, PCI_FORTH, tmp_path)
    compare(printed(romheaders, tmp_path / "made.fc"), data)
    reading = formats.read(BytesView(data))
    (part,) = reading.parts
    assert part.kind == "option-rom/open-firmware"
    assert (part.value("vendor_id"), part.value("device_id"), part.value("class_code")) == (0xF234, 0x64, 0x010700)
    assert part.value("code_revision") == 0x0102
    assert part.value("last_image") is True
    assert part.parts[0].value("checksum_ok") is True
    assert not reading.faults
