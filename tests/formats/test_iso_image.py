"""ISO 9660 images: by hand one field at a time; those of genisoimage, xorriso (Debian) and pycdlib (PyPI)."""

from __future__ import annotations

import hashlib
import io
import random
import shutil
import subprocess
from pathlib import Path

import pytest

from catalogue import formats
from catalogue.formats import iso_image
from catalogue.formats.disk_files import DiskFile, chunks
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.formats.build_disk import mbr, mbr_entry
from tests.formats.build_fat import fat
from tests.formats.build_iso import (
    BLOCK,
    FOLDER,
    SP,
    boot_entry,
    boot_record,
    ce,
    cl,
    descriptor,
    entry,
    folder,
    iso,
    nm,
    px,
    record,
    section,
    terminator,
    validation,
)
from tests.formats.disk_samples import ISO, ROCK_RIDGE


def read(data: bytes) -> Reading:
    reading = iso_image.read(BytesView(data))
    assert reading is not None
    return reading


def files(data: bytes) -> dict[str, DiskFile]:
    listing = iso_image.files(BytesView(data))
    assert listing is not None
    return {one.name: one for one in listing.files}


def content(data: bytes, name: str) -> bytes:
    return b"".join(chunks(BytesView(data), files(data)[name]))


def faults(data: bytes) -> list[str]:
    return [one.text for one in read(data).faults]


def notes(data: bytes) -> list[str]:
    return [one.text for one in read(data).notes]


def names(data: bytes) -> list[str]:
    return [one.name for one in read(data).members]


def test_a_sound_image():
    reading = read(ISO)
    assert (reading.kind, reading.title) == ("archive/iso", "ISO 9660 image of 2 files")
    assert not reading.faults
    assert not reading.notes
    assert names(ISO) == ["HERON.ROM", "NOTES/", "NOTES/READ.ME"]
    assert (reading.value("volume_id"), reading.value("system_id")) == ("SALTMARSH", "BY HAND")
    assert content(ISO, "NOTES/READ.ME") == b"by hand"
    assert formats.read(BytesView(ISO)).format == "iso"


def test_rock_ridge_and_joliet_and_boot_images():
    reading = read(ROCK_RIDGE)
    assert not reading.faults
    assert reading.value("trees") == ("primary (Rock Ridge)", "Joliet")
    assert files(ROCK_RIDGE)["heron firmware.rom"].short_name == "HERON.ROM"
    assert reading.value("boot_1") == "x86, no emulation, boot-image-1.img"
    assert reading.value("boot_2") == "UEFI, no emulation, boot-image-2.img"


def plain(*records: bytes, use: bytes = b"", **blocks: bytes) -> bytes:
    """An image whose root folder has these records; `b20` … are blocks."""
    placed = {int(name[1:]): data for name, data in blocks.items()}
    return iso({18: folder(18, *records, use=use), **placed})


@pytest.mark.parametrize(
    ("raw", "name"),
    [
        (b"A.ROM;1", "A.ROM"),
        (b"NOTES.;1", "NOTES"),
        (b"NOTES.", "NOTES"),
        (b"A.ROM", "A.ROM"),
        (b"A;B", "A;B"),
        (b"A.;x", "A.;x"),
        ("Grüße".encode(), "Grüße"),
        (b"od\xffd;1", "od\udcffd"),
    ],
)
def test_identifiers(raw: bytes, name: str):
    assert names(plain(record(raw, 20, 3))) == [name]


def test_joliet_names():
    odd = "a\ud800b".encode("utf-16-be", "surrogatepass")
    tree = folder(
        19, record("Long name.txt;1".encode("utf-16-be"), 21, 3), record(odd, 21, 3), record(odd + b"!", 21, 3)
    )
    data = iso(
        {
            16: descriptor(root=20, blocks=22),
            17: descriptor(2, 19, 22, b"%/C"),
            18: terminator(),
            19: tree,
            20: folder(20, record(b"LONGNA.TXT;1", 21, 3)),
        }
    )
    assert names(data)[:2] == ["Long name.txt", "a\ud800b"]
    assert names(data)[2].startswith("a\ud800b")
    assert len(set(names(data))) == 3
    assert files(data)["Long name.txt"].short_name == "LONGNA.TXT"
    assert not read(data).faults


def test_an_enhanced_tree():
    data = iso(
        {
            16: descriptor(root=20, blocks=22),
            17: descriptor(2, 19, 22, version=2),
            18: terminator(),
            19: folder(19, record(b"a much longer name than thirty-one characters.rom", 21, 3)),
            20: folder(20, record(b"SHORT.ROM;1", 21, 3)),
        }
    )
    assert read(data).value("trees") == ("enhanced", "primary")
    assert names(data) == ["a much longer name than thirty-one characters.rom"]


def test_nothing_hides_in_another_tree():
    data = iso(
        {
            16: descriptor(root=20, blocks=22),
            17: descriptor(2, 19, 22, b"%/E"),
            18: terminator(),
            19: folder(19, record("seen".encode("utf-16-be"), 21, 3)),
            20: folder(20, record(b"SEEN;1", 21, 3), record(b"HIDDEN;1", 21, 5), record(b"seen;1", 20, 6)),
            21: b"hello",
        }
    )
    assert notes(data) == ["Files that only its primary tree lists: 2."]
    assert names(data) == ["seen", "HIDDEN", "primary tree/seen"]
    assert content(data, "HIDDEN") == b"hello"


def rock(*records: bytes, **blocks: bytes) -> bytes:
    return plain(*records, use=SP, **blocks)


def test_rock_ridge_names():
    parts = record(b"A;1", 20, 3, use=nm(b"first ", 1) + nm(b"second"))
    assert names(rock(parts)) == ["first second"]
    assert names(rock(record(b"A;1", 20, 3, use=nm(b"", 2)))) == ["A"], "the folder itself"
    assert names(rock(record(b"A;1", 20, 3, use=nm(b"\xff\n")))) == ["\udcff\n"]
    stopped = record(b"A;1", 20, 3, use=entry(b"ST", b"") + nm(b"behind the end"))
    assert names(rock(stopped)) == ["A"]
    continued = rock(record(b"A;1", 20, 3, use=ce(21, 10, 60)), b21=bytes(10) + nm(b"n" * 50))
    assert names(continued) == ["n" * 50]
    skipped = plain(record(b"A;1", 20, 3, use=b"xyz" + nm(b"n")), use=entry(b"SP", b"\xbe\xef\3"))
    assert names(skipped) == ["n"]
    assert names(plain(record(b"A;1", 20, 3, use=nm(b"no SP, so no system use")))) == ["A"]


LEFT = {
    "link": (px(0o120777), "is a link, which is not followed"),
    "link by its path": (entry(b"SL", b"\0\0\1x"), "is a link, which is not followed"),
    "pipe": (px(0o010644), "is a device or a pipe"),
    "zisofs": (entry(b"ZF", b"pz" + bytes(10)), "is packed by zisofs, which is not read"),
    "sparse": (entry(b"SF", bytes(17)), "is a sparse file, which is not read"),
}


@pytest.mark.parametrize("what", LEFT)
def test_what_rock_ridge_says_is_no_plain_file(what: str):
    use, says = LEFT[what]
    data = rock(record(b"A;1", 20, 3, use=use))
    assert files(data)["A"].fault == says
    assert files(data)["A"].extents == ()
    assert bool(read(data).faults) == (what in ("zisofs", "sparse"))
    assert bool(read(data).notes) == (what not in ("zisofs", "sparse"))


def test_moved_folders():
    """A deep folder lies elsewhere: it is listed where it belongs, and only there (RRIP 4.1.5)."""
    data = rock(
        record(b"MOVED", 19, BLOCK, FOLDER),
        record(b"DEEP;1", 0, 0, use=nm(b"deep") + cl(20)),
        b19=folder(19, record(b"DEEP", 20, BLOCK, FOLDER, use=nm(b"deep") + entry(b"RE", b""))),
        b20=folder(20, record(b"A;1", 21, 3)),
    )
    assert names(data) == ["MOVED/", "deep/", "deep/A"]
    astray = rock(record(b"DEEP;1", 0, 0, use=cl(21)))
    assert names(astray) == ["DEEP/"]


def test_folders_that_lead_back():
    data = plain(record(b"D", 19, BLOCK, FOLDER), b19=folder(19, record(b"UP", 18, BLOCK, FOLDER)))
    assert faults(data) == ["Member 'D/UP/' is a folder that leads back to one that is listed already."]
    twice = plain(record(b"D", 19, BLOCK, FOLDER), record(b"E", 19, BLOCK, FOLDER), b19=folder(19))
    assert faults(twice) == ["Member 'E/' is a folder that leads back to one that is listed already."]
    linked = rock(record(b"D", 0, 0, use=cl(18)))
    assert faults(linked) == ["Member 'D/' is a folder that leads back to one that is listed already."]


def test_a_file_in_sections():
    data = plain(record(b"A;1", 21, BLOCK, 0x80), record(b"A;1", 20, 100), b20=b"b" * 100, b21=b"a" * BLOCK)
    assert content(data, "A") == b"a" * BLOCK + b"b" * 100
    assert files(data)["A"].offset is None
    behind = plain(record(b"A;1", 20, BLOCK, 0x80), record(b"A;1", 21, 100))
    assert files(behind)["A"].offset == 20 * BLOCK, "sections that follow one another are one"


def test_records_with_something_about_them():
    assert files(plain(record(b"A;1", 19, 3, extended=1)))["A"].offset == 20 * BLOCK
    assert "is interleaved" in faults(plain(record(b"A;1", 20, 3, unit=1, gap=1)))[0]
    assert notes(plain(record(b"A;1", 20, 3, 4), record(b"A;1", 21, 3))) == ["Associated files, which are not read: 1."]
    assert "stands in the image more than once" in faults(plain(record(b"A;1", 20, 3), record(b"A;1", 21, 3)))[0]
    assert not faults(plain(record(b"A;1", 20, 3), record(b"B;1", 20, 3))), "two names for the same bytes"
    partly = plain(record(b"A;1", 20, 3_000), record(b"B;1", 21, 100))
    assert all("shares its bytes" in text for text in faults(partly))
    assert len(faults(partly)) == 2
    other = bytearray(plain(record(b"A;1", 20, 3)))
    at = other.index(b"\3A;1") - 32
    other[at + 17] ^= 1
    assert notes(bytes(other)) == ["Numbers of directory records differ between their two byte orders."]
    damaged = bytearray(plain(record(b"A;1", 20, 3)))
    damaged[at + 32] = 200
    assert faults(bytes(damaged)) == ["A record of folder 'its root folder' is damaged."]


@pytest.mark.parametrize("name", [b"../x", b"a/b", b"a\nb", b"C:x"])
def test_unsafe_names(name: bytes):
    assert [one.code for one in read(rock(record(b"A;1", 20, 3, use=nm(name)))).faults] == ["archive-name"]


def test_cut_short():
    cut = ISO[: 21 * BLOCK]
    assert faults(cut)[0] == f"It is cut short: its volume counts {len(ISO)} bytes, {len(cut)} are there."
    assert [one.name for one in files(cut).values() if not one.fault] == ["HERON.ROM", "NOTES/"]
    assert "runs past the end" in faults(ISO[: 18 * BLOCK + 100])[1]
    whole = iso({18: folder(18, record(b"A;1", 20, 0xFFFFFFFF))})
    assert "runs past the end" in faults(whole)[0]


def test_descriptors():
    endless = plain()
    endless = endless[: 17 * BLOCK] + bytes(BLOCK) + endless[18 * BLOCK :]
    assert faults(endless) == ["The list of its volume descriptors has no end."]
    strange = iso({16: descriptor(root=20), 17: descriptor(2, 20, 22, b"???"), 18: terminator(), 20: folder(20)})
    assert notes(strange) == ["A supplementary volume descriptor is not understood."]
    differs = bytearray(ISO)
    differs[16 * BLOCK + 87] ^= 1
    assert notes(bytes(differs)) == ["A number of the volume descriptor differs between its two byte orders."]
    astray = iso({16: descriptor(root=21)})
    assert faults(astray) == ["The root folder of its primary tree is not where it should be."]


def test_small_blocks():
    made = bytearray(descriptor(root=18 * 4, blocks=88))
    made[128:132] = b"\0\2\2\0"
    data = iso({16: bytes(made), 18: folder(72, record(b"A;1", 81, 3)), 20: bytes(512) + b"abc"})
    assert content(data, "A") == b"abc"


BROKEN = {
    "identifier": (16 * BLOCK + 1, b"CD002"),
    "type": (16 * BLOCK, b"\7"),
    "block of 0": (16 * BLOCK + 128, b"\0\0"),
    "block of 3": (16 * BLOCK + 128, b"\3\0"),
    "root is no folder": (16 * BLOCK + 156 + 25, b"\0"),
    "root record too short": (16 * BLOCK + 156, b"\5"),
    "no primary": (16 * BLOCK, b"\2"),
}


@pytest.mark.parametrize("what", BROKEN)
def test_what_is_no_image(what: str):
    at, raw = BROKEN[what]
    data = bytearray(ISO)
    data[at : at + len(raw)] = raw
    assert formats.read(BytesView(bytes(data))).kind == "opaque"


# Boot images


def booted(*entries: bytes, blocks: dict[int, bytes] | None = None, total: int = 40) -> bytes:
    return iso(
        {
            16: descriptor(root=19, blocks=total),
            17: boot_record(20),
            18: terminator(),
            19: folder(19, record(b"A.BIN;1", 21, 2_048)),
            20: b"".join(entries),
            **(blocks or {}),
        },
        total=total,
    )


def test_boot_images():
    assert read(booted(validation(), boot_entry(21))).value("boot_1") == "x86, no emulation, A.BIN"
    unbootable = read(booted(validation(), boot_entry(21, bootable=False)))
    assert unbootable.value("boot_1") == "x86, no emulation, A.BIN, not bootable"
    floppy = read(booted(validation(), boot_entry(22, 1, 2), total=760))
    assert [(one.name, one.size) for one in floppy.members[1:]] == [("boot-image-1.img", 1_474_560)]
    inner = mbr(mbr_entry(1, 7))
    disk = booted(validation(), boot_entry(22, 1, 4), blocks={22: inner})
    assert files(disk)["boot-image-1.img"].size == 8 * 512
    system = fat(clusters=20)
    efi = booted(validation(), boot_entry(21), section(0xEF, 1), boot_entry(23, 0), blocks={23: system})
    assert content(efi, "boot-image-2.img") == system, "the file system tells its own length"
    unknown = booted(validation(0xEF), boot_entry(23, 0))
    assert "Nothing tells how long boot image 1 is; it is no member." in notes(unknown)
    past = booted(validation(), boot_entry(39, 100))
    assert "Member 'boot-image-1.img' runs past the end of the image." in faults(past)


def test_boot_catalogues_with_damage():
    assert faults(booted(boot_entry(21))) == ["Its boot catalogue does not begin with a validation entry."]
    wrong = bytearray(validation())
    wrong[5] ^= 1
    assert faults(booted(bytes(wrong), boot_entry(21))) == ["The sum of its boot catalogue is wrong."]
    strange = b"\x33" + boot_entry(21)[1:]
    assert faults(booted(validation(), strange)) == ["An entry of its boot catalogue is not understood."]
    many = booted(validation(), boot_entry(21), section(0xEF, 90), boot_entry(21) * 90)
    assert faults(many) == ["Its boot catalogue has more than 64 entries."]


def test_hybrid_images():
    outside = fat(clusters=12)
    table = mbr(mbr_entry(4, 84, 0x17), mbr_entry(88, 16, 0xEF), mbr_entry(80, 4, 0x83))
    data = bytearray(iso({18: folder(18, record(b"A;1", 20, 3))}, total=30))
    data[:512] = table
    data[88 * 512 : 88 * 512 + len(outside)] = outside
    assert notes(bytes(data)) == ["It is a hybrid: a partition table of 3 partitions stands in its system area."]
    assert names(bytes(data)) == ["A", "partition-2.img"], "one covers the volume, one is a file of it"
    assert content(bytes(data), "partition-2.img") == outside
    assert formats.read(BytesView(bytes(data))).kind == "archive/iso"
    assert "Partition 2 lacks its last 512 bytes." in faults(bytes(data)[: 103 * 512])


# The bounds


def test_too_many_descriptors(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("catalogue.formats.iso_volume.MAX_DESCRIPTORS", 1)
    assert faults(ISO) == ["The list of its volume descriptors has no end."]


def test_continuations_in_a_circle():
    data = rock(record(b"A;1", 20, 3, use=ce(21, 0, 28)), b21=ce(21, 0, 28))
    assert files(data)["A"].fault == "has more continued system use fields than are read"


def test_too_deep_and_too_large(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("catalogue.formats.iso_walk.MAX_DISK_DEPTH", 2)
    deep = plain(
        record(b"D", 19, BLOCK, FOLDER),
        b19=folder(19, record(b"D", 20, BLOCK, FOLDER)),
        b20=folder(20, record(b"A", 21, 1)),
    )
    assert faults(deep) == ["Member 'D/D/' is a folder more than 2 folders deep, which was not read."]
    monkeypatch.setattr("catalogue.formats.iso_walk.MAX_FOLDER_BYTES", 90)
    assert faults(ISO)[0] == "Folder 'its root folder' is longer than can be read."
    monkeypatch.setattr("catalogue.formats.iso_walk.MAX_FOLDER_BYTES", 1 << 20)
    monkeypatch.setattr("catalogue.formats.iso_walk.MAX_FOLDERS_BYTES", BLOCK)
    assert "Its folders hold more than 0 MiB; the rest was not read." in faults(ISO)
    assert names(ISO) == ["HERON.ROM", "NOTES/"]


def test_too_many_members(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("catalogue.formats.disk_files.MAX_MEMBERS", 2)
    assert faults(ISO) == ["It lists more than can be read: 2 members are shown."]
    monkeypatch.setattr("catalogue.formats.iso_walk.MAX_MEMBERS", 0)
    assert len(read(ISO).members) == 1


# Outside


def tree(folder_: Path) -> dict[str, bytes]:
    chance = random.Random(5)
    made = {
        "HERON.ROM": chance.randbytes(70_000),
        "A longer name, with spaces.efi": chance.randbytes(3_000),
        "empty": b"",
        "Folder/inner/Grüße.txt": b"hello",
        "/".join("12345678") + "/nine/ten/deep.txt": b"deep",
        "n" * 90 + ".bin": b"long",
        **{f"many/file number {number}.dat": bytes((number,)) * (number + 1) for number in range(120)},
    }
    for name, data in made.items():
        path = folder_ / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    return made


def digests(data: bytes) -> dict[str, str]:
    return {
        name: hashlib.sha256(content(data, name)).hexdigest()
        for name, one in files(data).items()
        if not one.folder and not one.fault
    }


def wanted(made: dict[str, bytes]) -> dict[str, str]:
    return {name: hashlib.sha256(data).hexdigest() for name, data in made.items()}


MAKERS = {
    "genisoimage": ["genisoimage", "-quiet"],
    "xorriso": ["xorriso", "-as", "mkisofs", "-quiet"],
}


@pytest.mark.outside
@pytest.mark.parametrize("maker", MAKERS)
@pytest.mark.parametrize("options", [("-R",), ("-J", "-joliet-long"), ("-R", "-J"), ("-R", "-iso-level", "3")])
def test_images_of_their_makers(tmp_path: Path, maker: str, options: tuple[str, ...]):
    if shutil.which(maker) is None:
        pytest.skip(f"needs Debian's {maker}")
    source, out = tmp_path / "source", tmp_path / "made.iso"
    made = tree(source)
    (source / "link").symlink_to("HERON.ROM")
    if "-R" not in options:
        (source / "link").unlink()
        options = (*options, "-D")  # else the primary tree's depth is mended by moving folders
    subprocess.run([*MAKERS[maker], *options, "-V", "BENCH", "-o", out, source], check=True, capture_output=True)
    data = out.read_bytes()
    reading = formats.read(BytesView(data))
    assert reading.kind == "archive/iso"
    assert not reading.faults, reading.faults
    assert reading.value("volume_id") == "BENCH"
    assert digests(data) == wanted(made)


@pytest.mark.outside
def test_against_pycdlib(tmp_path: Path):
    """Its image read by us and by itself: every tree's names, lengths and bytes; its boot image."""
    pycdlib = pytest.importorskip("pycdlib")
    image = pycdlib.PyCdlib()
    image.new(interchange_level=3, joliet=3, rock_ridge="1.09", vol_ident="BENCH")
    chance = random.Random(9)
    made = {}
    image.add_directory("/DIR1", rr_name="a folder", joliet_path="/a folder")
    for number in range(60):
        name, data = f"piece {number}.rom", chance.randbytes(chance.randrange(9_000))
        made[f"a folder/{name}"] = data
        path = f"/DIR1/PIECE{number}.ROM;1"
        image.add_fp(io.BytesIO(data), len(data), path, rr_name=name, joliet_path=f"/a folder/{name}")
    image.add_fp(io.BytesIO(b"boot" * 512), 2_048, "/BOOT.;1", rr_name="boot", joliet_path="/boot")
    image.add_eltorito("/BOOT.;1", "/BOOT.CAT;1", joliet_bootcatfile="/boot.cat", rr_bootcatname="boot.cat")
    out = io.BytesIO()
    image.write_fp(out)
    image.close()
    data = out.getvalue()
    reading = read(data)
    assert not reading.faults, reading.faults
    assert reading.value("boot_1") == "x86, no emulation, boot"
    ours = digests(data)
    assert {name: ours[name] for name in made} == wanted(made)
    again = pycdlib.PyCdlib()
    again.open_fp(io.BytesIO(data))
    told = {}
    for path, _, inner in again.walk(rr_path="/"):
        for name in inner:
            whole = f"{path.rstrip('/')}/{name}"
            body = io.BytesIO()
            again.get_file_from_iso_fp(body, rr_path=whole)
            told[whole[1:]] = hashlib.sha256(body.getvalue()).hexdigest()
    again.close()
    assert ours == told
