"""Firmware volumes of Debian's ovmf, as PyPI `uefi-firmware` takes them apart: the same files, sizes and names."""

from collections import Counter
from pathlib import Path

import pytest

from catalogue.formats.firmware_volume import read
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.contracts import battery
from tests.reference import debian

pytestmark = pytest.mark.outside
IMAGES = ("ovmf/OVMF.fd", "OVMF/OVMF_CODE_4M.fd", "OVMF/OVMF_VARS_4M.fd")
PAD = 0xF0


def image(name: str) -> bytes:
    return (debian.files("ovmf") / "usr/share" / Path(name)).read_bytes()


def ours(data: bytes) -> Reading:
    reading = read(BytesView(data))
    assert reading is not None
    battery.examine(reading, len(data))
    assert reading.faults == reading.notes == ()
    return reading


def walk(reading: Reading):
    yield reading
    for part in reading.parts:
        yield from walk(part)


def theirs(thing):
    yield thing
    for one in thing.objects or ():
        if one is not None:
            yield from theirs(one)


@pytest.mark.parametrize("name", IMAGES)
def test_the_same_files(name: str):
    uefi_firmware = pytest.importorskip("uefi_firmware")
    from uefi_firmware import uefi

    data = image(name)
    parsed = uefi_firmware.AutoParser(data).parse()
    objects = list(theirs(parsed))
    files = [one for one in objects if isinstance(one, uefi.FirmwareFile) and one.type != PAD]
    want = Counter(
        (str(one.guid_label if hasattr(one, "guid_label") else "").upper(), one.size, one.type) for one in files
    )
    mine = [one for one in walk(ours(data)) if one.format == "ffs-file"]
    have = Counter((one.value("file_name"), one.value("file_size"), one.value("file_type")) for one in mine)
    assert have == want
    programs = sum(isinstance(one, uefi.FirmwareFileSystemSection) and one.type in (0x10, 0x12) for one in objects)
    assert sum(one.format in ("pe", "te") for one in walk(ours(data))) == programs
    names = {one.name for one in objects if isinstance(one, uefi.FirmwareFileSystemSection) and one.type == 0x15}
    labels = {one.value("name") for one in mine} - {None}
    assert len(labels) >= len(names - {None, ""}) - 1
    volumes = [one for one in objects if isinstance(one, uefi.FirmwareVolume)]
    found = [one for one in walk(ours(data)) if one.format == "firmware-volume" and one.value("volume_length")]
    assert sorted(one.value("volume_length") for one in found) == sorted(one.size for one in volumes)


def test_known_files():
    """File names of the PI Specification (volume 2, DXE core; from memory: 1BA0062E is the reset vector)."""
    reading = ours(image("ovmf/OVMF.fd"))
    titles = [one.title for one in walk(reading) if one.format == "ffs-file"]
    assert any(title.startswith("DXE core DxeCore") for title in titles)
    assert any(title.startswith("security core SecMain") for title in titles)
    assert [one.offset for one in reading.parts] == [0, 0x20000, 0x1CC000]


def test_a_flipped_byte_in_the_packed_volume_is_told():
    data = bytearray(image("ovmf/OVMF.fd"))
    data[0x40000] ^= 1
    reading = read(BytesView(bytes(data)))
    assert reading is not None
    assert any(one.code == "volume-damaged" for one in reading.faults)
