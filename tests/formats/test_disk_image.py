"""Disk images: by hand one field at a time, and those of sfdisk, sgdisk and makers of file systems (Debian)."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest

from catalogue import formats
from catalogue.formats import disk_image
from catalogue.formats.disk_files import chunks
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.formats.build_disk import gpt, gpt_entry, gpt_header, mbr, mbr_entry, put
from tests.formats.disk_samples import GPT, LOGICAL, MBR, SMALL


def read(data: bytes) -> Reading:
    reading = disk_image.read(BytesView(data))
    assert reading is not None
    return reading


def parts(data: bytes) -> dict[str, bytes]:
    listing = disk_image.files(BytesView(data))
    assert listing is not None
    return {one.name: b"".join(chunks(BytesView(data), one)) for one in listing.files}


def faults(data: bytes) -> list[str]:
    return [one.text for one in read(data).faults]


@pytest.mark.parametrize("data", [MBR, LOGICAL, GPT], ids=["MBR", "logical", "GPT"])
def test_partitions_are_members(data: bytes):
    assert not read(data).faults
    number = {MBR: 1, LOGICAL: 5, GPT: 1}[data]
    inside = parts(data)[f"partition-{number}.img"]
    assert inside.startswith(SMALL)
    assert formats.read(BytesView(inside)).kind == "archive/fat"
    assert formats.read(BytesView(data)).kind == "archive/disk"


def test_what_is_said_of_them():
    assert read(MBR).title == "Disk image of 2 partitions (MBR)"
    assert read(MBR).value("partition_1") == "FAT12, 3584 bytes from 1024"
    assert read(LOGICAL).value("partition_6") == "Linux, 512 bytes from 5632"
    assert read(GPT).value("partition_1") == "EFI system, 3584 bytes from 2048, called BENCH"


def test_a_partition_cut_short():
    cut = MBR[: 12 * 512]
    assert faults(cut) == ["Partition 2 lacks its last 2048 bytes: the image is cut short."]
    assert len(parts(cut)["partition-2.img"]) == 1_024
    gone = MBR[: 9 * 512]
    assert "Partition 2 lacks its last 3072 bytes: the image is cut short." in faults(gone)


def test_logical_partitions_that_run_in_a_circle():
    data = put(16 * 512, {0: mbr(mbr_entry(1, 15, 5)), 1: mbr(mbr_entry(1, 7, 1), mbr_entry(9, 2, 5)), 2: SMALL,
                          10: mbr(mbr_entry(1, 1), mbr_entry(9, 2, 5))})  # fmt: skip
    assert faults(data) == ["Its chain of logical partitions runs in a circle."]
    away = put(16 * 512, {0: mbr(mbr_entry(1, 15, 5)), 1: mbr(mbr_entry(1, 7, 1), mbr_entry(90, 2, 5)), 2: SMALL})
    assert faults(away) == ["Its chain of logical partitions leaves the extended one."]
    broken = put(16 * 512, {0: mbr(mbr_entry(1, 15, 5)), 1: mbr(mbr_entry(1, 7, 1), mbr_entry(9, 2, 5)), 2: SMALL})
    assert faults(broken) == ["Its chain of logical partitions breaks off."]


def test_more_partitions_than_are_read(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("catalogue.formats.partition_table.MAX_PARTITIONS", 1)
    assert faults(LOGICAL) == ["It has more than 1 partitions; the rest was not read."]
    two = gpt(gpt_entry(4, 6), gpt_entry(7, 9))
    assert "It has more than 1 partitions; the rest was not read." in faults(two)


def test_partition_tables_with_damage():
    header = bytearray(GPT)
    header[512 + 60] ^= 1
    assert faults(bytes(header)) == ["Its first partition table is damaged; the second one was read."]
    entries = bytearray(GPT)
    entries[1024 + 56] ^= 1
    assert faults(bytes(entries)) == ["Its first partition table is damaged; the second one was read."]
    alone = gpt(gpt_entry(4, 10), parts={4: SMALL}, second=False)
    assert faults(alone) == ["Its second partition table is missing."]
    both = gpt(gpt_entry(4, 10), parts={4: SMALL, 2: gpt_entry(4, 9)}, second=False)
    assert faults(both) == ["The entries of its partition table are damaged (CRC)."]
    other = gpt_entry(4, 12).ljust(512, b"\0")
    two = bytearray(GPT)
    two[14 * 512 :] = other + gpt_header(15, 1, 14, other)
    assert faults(bytes(two)) == ["Its two partition tables disagree; the first one was read."]
    many = gpt(parts={1: gpt_header(1, 15, 2, b"", count=1 << 20)}, second=False)
    assert faults(many) == ["Its partition table has 1048576 entries of 128 bytes, which is not read."]
    backwards = gpt(gpt_entry(10, 4))
    assert faults(backwards) == ["Partition 1 ends before it begins."]


def test_overlapping_partitions():
    data = gpt(gpt_entry(4, 10), gpt_entry(8, 12))
    assert faults(data) == [
        "Member 'partition-1.img' shares its bytes with another member.",
        "Member 'partition-2.img' shares its bytes with another member.",
    ]


@pytest.mark.parametrize(
    "entries",
    [
        (),
        (mbr_entry(0, 8),),
        (mbr_entry(2, 0),),
        (mbr_entry(2, 7, flag=0x12),),
        (mbr_entry(2, 7), mbr_entry(5, 7)),
        (mbr_entry(2, 2_000, kind=0x83),),
        (mbr_entry(200, 7),),
    ],
    ids=["none", "from 0", "no length", "flag", "overlap", "past the end, nothing known", "begins past the end"],
)
def test_what_is_no_partition_table(entries: tuple[bytes, ...]):
    data = put(16 * 512, {0: mbr(*entries)})
    assert formats.read(BytesView(data)).kind == "opaque"


def test_a_file_system_is_not_a_disk():
    """A boot sector's code may look like entries; the file system is read first."""
    data = bytearray(SMALL)
    data[446:510] = mbr(mbr_entry(2, 2))[446:510]
    assert formats.read(BytesView(bytes(data))).kind == "archive/fat"


# Outside

TOOLS = ("sfdisk", "sgdisk", "mkfs.fat", "mkfs.ext4", "mkswap")
OUTSIDE = pytest.mark.skipif(
    not all(shutil.which(tool) for tool in TOOLS),
    reason="needs Debian's fdisk, gdisk, dosfstools, e2fsprogs, util-linux",
)


@OUTSIDE
@pytest.mark.outside
@pytest.mark.parametrize("label", ["dos", "gpt"])
def test_against_sfdisk(tmp_path: Path, label: str):
    image, inner = tmp_path / "disk.img", tmp_path / "fat"
    with image.open("wb") as made:
        made.truncate(16 << 20)
    efi, linux = {"dos": ("ef", "83"), "gpt": ("U", "L")}[label]
    script = f"label: {label}\nsize=2M,type={efi}\nsize=4M,type={linux}\nsize=2M,type={linux}\n"
    script += "type=5,size=4M\nsize=1M,type=e\nsize=1M,type=83\n" if label == "dos" else "size=1M\n"
    subprocess.run(["sfdisk", "-q", image], input=script, text=True, check=True, capture_output=True)
    told = json.loads(subprocess.run(["sfdisk", "-J", image], check=True, capture_output=True, text=True).stdout)
    table = told["partitiontable"]["partitions"]
    start = {int(one["node"].removeprefix(str(image))): one["start"] * 512 for one in table}
    subprocess.run(["mkfs.fat", "-C", inner, "2048"], check=True, capture_output=True)
    with image.open("r+b") as made:
        made.seek(start[1])
        made.write(inner.read_bytes())
    offset = f"offset={start[2]}"
    subprocess.run(["mkfs.ext4", "-q", "-F", "-E", offset, image, "4M"], check=True, capture_output=True)
    swap = tmp_path / "swap"
    swap.write_bytes(bytes(2 << 20))
    subprocess.run(["mkswap", swap], check=True, capture_output=True)
    with image.open("r+b") as made:
        made.seek(start[3])
        made.write(swap.read_bytes())
    data = image.read_bytes()
    reading = formats.read(BytesView(data))
    assert reading.kind == "archive/disk"
    assert not reading.faults, reading.faults
    listed = {one.name: (one.header_offset, one.size) for one in reading.members}
    wanted = {
        f"partition-{int(one['node'].removeprefix(str(image)))}.img": (one["start"] * 512, one["size"] * 512)
        for one in table
        if one["type"] != "5"
    }
    assert listed == wanted
    assert formats.read(BytesView(parts(data)["partition-1.img"])).kind == "archive/fat"
    said = [one.text for one in reading.notes]
    assert said == [
        "Partition 2 holds ext2, ext3 or ext4, which is not read.",
        "Partition 3 holds swap, which is not read.",
    ]


@OUTSIDE
@pytest.mark.outside
def test_against_sgdisk(tmp_path: Path):
    """Its second table, when the first is wiped, leads to the same partitions; sgdisk says the same."""
    image = tmp_path / "disk.img"
    with image.open("wb") as made:
        made.truncate(8 << 20)
    arguments = ["-n", "1:2048:+1M", "-t", "1:EF00", "-c", "1:Saltmarsh bench", "-n", "3:0:+2M"]
    subprocess.run(["sgdisk", *arguments, image], check=True, capture_output=True)
    sound = read(image.read_bytes())
    assert not sound.faults
    assert sound.value("partition_1") == "EFI system, 1048576 bytes from 1048576, called Saltmarsh bench"
    with image.open("r+b") as made:
        made.seek(512)
        made.write(bytes(512))
    wiped = read(image.read_bytes())
    assert wiped.members == sound.members
    assert [one.text for one in wiped.faults] == ["Its first partition table is damaged; the second one was read."]
