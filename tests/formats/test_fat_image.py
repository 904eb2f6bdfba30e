"""FAT images: by hand one field at a time, and those of mkfs.fat and mtools (Debian dosfstools, mtools)."""

from __future__ import annotations

import hashlib
import random
import shutil
import subprocess
from pathlib import Path

import pytest

from catalogue import formats
from catalogue.formats import disk_files, fat_image, limits
from catalogue.formats.disk_files import DiskFile, chunks
from catalogue.formats.reader import Looks
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.formats.build_fat import FOLDER, LABEL, checksum, entry, fat, long
from tests.formats.disk_samples import FAT12, FAT32

WIDTHS = pytest.mark.parametrize("bits", [12, 16, 32])
CLUSTERS = {12: 12, 16: 4_085, 32: 12}


def read(data: bytes) -> Reading:
    reading = fat_image.read(BytesView(data))
    assert reading is not None
    return reading


def files(data: bytes) -> dict[str, DiskFile]:
    listing = fat_image.files(BytesView(data))
    assert listing is not None
    return {one.name: one for one in listing.files}


def content(data: bytes, name: str) -> bytes:
    return b"".join(chunks(BytesView(data), files(data)[name]))


def faults(data: bytes) -> list[str]:
    return [one.text for one in read(data).faults]


def notes(data: bytes) -> list[str]:
    return [one.text for one in read(data).notes]


def test_a_sound_image():
    reading = read(FAT12)
    assert (reading.kind, reading.title) == ("archive/fat", "FAT12 image of 2 files")
    assert not reading.faults
    assert not reading.notes
    assert [(one.name, one.size, one.folder) for one in reading.members] == [
        ("heron firmware.rom", 1_100, False),
        ("NOTES/", 0, True),
        ("NOTES/READ.ME", 7, False),
    ]
    assert reading.value("label") == "SALTMARSH"
    assert reading.value("deleted_entries") == 1
    assert reading.value("short_names") == ("HERONF~1.ROM = heron firmware.rom",)
    assert content(FAT12, "NOTES/READ.ME") == b"by hand"
    assert content(FAT12, "heron firmware.rom")[:4] == b"\x55\xaa\0\1"


@WIDTHS
def test_a_file_in_pieces(bits: int):
    """Clusters out of order are put in order, a file in one stretch is read in place."""
    start = 3
    data = fat(
        entry(b"A", start, 1_200) + entry(b"B", 9, 600),
        bits=bits,
        clusters=CLUSTERS[bits],
        chains=((start, 7, 5), (9, 10)),
        data={start: b"a" * 512, 7: b"b" * 512, 5: b"c" * 512, 9: b"d" * 1_024},
    )
    reading = read(data)
    assert not reading.faults, reading.faults
    assert content(data, "A") == b"a" * 512 + b"b" * 512 + b"c" * 176
    assert content(data, "B") == b"d" * 600
    assert files(data)["A"].offset is None
    where = files(data)["B"].offset
    assert where is not None
    assert data[where : where + 600] == b"d" * 600


def test_names():
    """Long names with their sums; what does not fit falls back to the short name; case bits; byte E5h as 05h."""
    sound = long("Long Name.txt", b"LONGNA~1.TXT") + entry(b"LONGNA~1.TXT")
    assert "Long Name.txt" in files(fat(sound))
    wrong_sum = long("Long Name.txt", b"OTHER.TXT") + entry(b"LONGNA~1.TXT")
    assert "LONGNA~1.TXT" in files(fat(wrong_sum))
    assert notes(fat(wrong_sum)) == ["Parts of long names that belong to no entry: 1."]
    exact = "x" * 13
    assert exact in files(fat(long(exact, b"X.") + entry(b"X")))
    longest = "y" * 255
    assert longest in files(fat(long(longest, b"Y") + entry(b"Y"), bits=32, per_cluster=2)), "255 characters"
    odd = "odd \ud800 name"
    assert odd in files(fat(long(odd, b"ODD") + entry(b"ODD"))), "a lone surrogate is kept"
    assert "heron.rom" in files(fat(entry(b"HERON.ROM", lower=0x18)))
    assert "HERON.rom" in files(fat(entry(b"HERON.ROM", lower=0x10)))
    assert "\u03c3X" in files(fat(entry(b"\x05X"))), "E5h in code page 437 is a sigma"
    every = bytes(byte for byte in range(0x80, 0x88))
    assert every.decode("cp437") in files(fat(entry(every)))
    lost = long("Long Name.txt", b"LONGNA~1.TXT")
    assert notes(fat(lost)) == ["Parts of long names that belong to no entry: 1."]


def test_unsafe_names():
    for name in ("../x", "a/b", "a\nb", "C:x"):
        data = fat(long(name, b"X") + entry(b"X"))
        assert [one.code for one in read(data).faults] == ["archive-name"], name


FAULTY = {
    "free": ("leads to a free cluster", {3: 0}),
    "bad": ("leads to a bad cluster", {3: 0xFF7}),
    "outside": ("leads to cluster 4000, which does not exist", {3: 4_000}),
    "reserved": ("leads to cluster 1, which does not exist", {3: 1}),
    "early end": ("ends before its size", {2: 0xFFF}),
    "circle": ("runs in a circle", {3: 2}),
    "itself": ("runs in a circle", {2: 2}),
}


@pytest.mark.parametrize("what", FAULTY)
def test_chains_gone_wrong(what: str):
    says, table = FAULTY[what]
    data = fat(entry(b"A", 2, 1_500), chains=((2, 3, 4),), table=table)
    assert len(faults(data)) == 1
    assert says in faults(data)[0]
    assert faults(data)[0].startswith("Member 'A' ")


def test_a_chain_longer_than_its_size_is_odd():
    data = fat(entry(b"A", 2, 5), chains=((2, 3),), data={2: b"hello"})
    assert notes(data) == ["Files whose cluster chain is longer than their size: 1."]
    assert content(data, "A") == b"hello"


def test_cross_linked():
    data = fat(entry(b"A", 2, 1_024) + entry(b"B", 5, 1_024) + entry(b"C", 7, 3), chains=((2, 3), (5, 3), (7,)))
    assert {name: one.fault for name, one in files(data).items()} == {
        "A": "shares its bytes with another member",
        "B": "shares its bytes with another member",
        "C": "",
    }
    folder = fat(entry(b"A", 2, 600) + entry(b"DIR", 3, attributes=FOLDER), chains=((2, 3),), data={3: b"\0"})
    assert all("shares its bytes" in one.fault for one in files(folder).values())


def test_folders_that_lead_back():
    data = fat(entry(b"DIR", 2, attributes=FOLDER), chains=((2,),), data={2: entry(b"BACK", 2, attributes=FOLDER)})
    assert faults(data) == ["Member 'DIR/BACK/' is a folder that leads back to one that is listed already."]
    wide = fat(entry(b"BACK", 2, attributes=FOLDER), bits=32)
    assert faults(wide) == ["Member 'BACK/' is a folder that leads back to one that is listed already."]
    circle = fat(entry(b"DIR", 2, attributes=FOLDER), chains=((2,),), table={2: 2}, data={2: entry(b"A") * 16})
    assert faults(circle)[0] == "Member 'DIR/' has a cluster chain that runs in a circle."
    assert [one.name for one in read(circle).members].count("DIR/A") == 16


def test_sizes_that_cannot_be():
    assert "is longer than the whole file system" in faults(fat(entry(b"A", 2, 0xFFFFFFFF), chains=((2,),)))[0]
    assert "has a size but no clusters" in faults(fat(entry(b"A", 0, 1)))[0]
    assert "stands in the image more than once" in faults(fat(entry(b"A") + entry(b"A")))[0]


def test_cut_short():
    cut = FAT12[:-3_000]
    assert faults(cut)[0] == f"It is cut short: its boot sector counts {len(FAT12)} bytes, {len(cut)} are there."
    sound = {name for name, one in files(cut).items() if not one.fault}
    for name in sound:
        assert content(cut, name) == content(FAT12, name)
    shorter = FAT12[: 4 * 512 + 700]
    assert files(shorter)["heron firmware.rom"].fault == "runs past the end of the image"
    with pytest.raises(disk_files.CutShort):
        content(shorter, "heron firmware.rom")


def test_tables_that_disagree():
    data = fat(entry(b"A", 2, 5), chains=((2,),), second_table={5: 0xFFF})
    assert faults(data) == ["Its two tables disagree, first about cluster 5; table 1 was read."]
    gone = fat(entry(b"A", 2, 5), chains=((2,),), table={0: 0, 2: 0}, second_table={0: 0xFF8, 2: 0xFFF})
    assert faults(gone)[0] == "Table 1 does not begin as a table must; table 2 was read."
    assert files(gone)["A"].fault == ""


def test_a_bad_boot_sector():
    wide = bytes(512) + FAT32[512:]
    assert faults(wide) == ["Its first boot sector is unusable; the second one was read."]
    assert content(wide, "HERON.ROM") == content(FAT32, "HERON.ROM")
    differs = FAT32[:43] + b"\1" + FAT32[44:]
    assert faults(differs) == ["Its first boot sector is unusable; the second one was read."]
    label = FAT32[:71] + b"X" + FAT32[72:]
    assert notes(label)[-1] == "Its two boot sectors differ."
    unsigned = FAT12[:510] + bytes(2) + FAT12[512:]
    assert notes(unsigned) == ["Its boot sector has no signature: no machine starts from it."]
    named = FAT12[:54] + b"FAT16   " + FAT12[62:]
    assert notes(named) == ["Its boot sector calls itself FAT16."]


BROKEN = {
    "sector size": {11: b"\0\3"},
    "no sectors in a cluster": {13: b"\0"},
    "three sectors in a cluster": {13: b"\3"},
    "no reserved sectors": {14: b"\0\0"},
    "no tables": {16: b"\0"},
    "no root": {17: b"\0\0"},
    "no sectors": {19: b"\0\0"},
    "too few sectors": {19: b"\3\0"},
    "medium": {21: b"\x12"},
    "neither jump nor signature": {0: b"\0", 510: b"\0"},
    "tables of zeros": {512: bytes(4), 1024: bytes(4)},
}


@pytest.mark.parametrize("what", BROKEN)
def test_what_is_no_file_system(what: str):
    data = bytearray(FAT12)
    for at, raw in BROKEN[what].items():
        data[at : at + len(raw)] = raw
    assert fat_image.looks_like(BytesView(bytes(data))) is Looks.NO
    assert formats.read(BytesView(bytes(data))).kind != "archive/fat"


def test_nothing_random_is_a_file_system():
    """Random bytes behind a boot sector's signature and jump; a ROM with 55AAh at 1FEh."""
    chance = random.Random(7)
    for _ in range(3_000):
        data = bytearray(chance.randbytes(2_048))
        data[0:3], data[510:512] = b"\xeb\x3c\x90", b"\x55\xaa"
        assert formats.read(BytesView(bytes(data))).kind not in ("archive/fat", "archive/disk")


def test_a_rom_is_not_mistaken():
    """An option ROM with 55AAh at 1FEh, and a boot sector's numbers behind its own beginning."""
    rom = bytearray(FAT12[:512] + bytes(1_536))
    rom[0:3], rom[24:26], rom[510:512] = b"\x55\xaa\x04", bytes(2), b"\x55\xaa"
    rom[2_047] = -sum(rom[:2_047]) & 0xFF
    assert formats.read(BytesView(bytes(rom))).kind.startswith("option-rom/")


def test_marks_of_a_system_that_crashed():
    assert notes(fat(bits=16, clusters=4_085, table={1: 0x7FFF})) == ["It was not dismounted cleanly."]
    assert "It was not dismounted cleanly." in notes(fat(bits=32, table={1: 0x07FFFFFF}))


# The bounds


def test_too_many_clusters_claimed(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("catalogue.formats.fat_table.MAX_DISK_STEPS", 0)
    many = b"".join(entry(b"F%d" % n, 2, 12 * 512) for n in range(8))
    data = fat(many, chains=(tuple(range(2, 14)),))
    assert any("claim more clusters than it has" in one.fault for one in files(data).values())


def test_too_many_members(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("catalogue.formats.disk_files.MAX_MEMBERS", 3)
    data = fat(b"".join(entry(b"F%d" % n) for n in range(5)))
    assert len(read(data).members) == 3
    assert faults(data) == ["It lists more than can be read: 3 members are shown."]


def test_too_many_stretches(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("catalogue.formats.disk_files.MAX_DISK_EXTENTS", 3)
    data = fat(entry(b"A", 2, 1_024) + entry(b"B", 6, 1_024), chains=((2, 4), (6, 8)))
    assert [one.name for one in read(data).members] == ["A"]
    monkeypatch.setattr("catalogue.formats.fat_table.MAX_DISK_EXTENTS", 1)
    assert "lies in too many stretches" in faults(data)[0]


def test_too_deep(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(fat_image, "MAX_DISK_DEPTH", 3)
    inner = {n: entry(b"D", n + 1, attributes=FOLDER) for n in range(2, 8)}
    data = fat(entry(b"D", 2, attributes=FOLDER), chains=tuple((n,) for n in range(2, 9)), data=inner)
    assert faults(data) == ["Member 'D/D/D/' is a folder more than 3 folders deep, which was not read."]


def test_too_large_folders(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(fat_image, "MAX_FOLDERS_BYTES", 1 << 20)
    limit = 2_048
    monkeypatch.setattr(fat_image, "MAX_FOLDER_BYTES", limit)
    data = fat(entry(b"D", 2, attributes=FOLDER), chains=(tuple(range(2, 10)),), data={2: entry(b"A") * 128})
    assert "is longer than can be read" in faults(data)[0]
    assert sum(one.name == "D/A" for one in read(data).members) == limit // 32
    monkeypatch.setattr(fat_image, "MAX_FOLDERS_BYTES", 700)
    assert faults(data)[0].startswith("Its folders hold more than")


def test_tables_compared_to_a_bound(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(fat_image, "MAX_TABLE_BYTES", 4)
    assert notes(fat()) == ["Only the first 0 MiB of its tables were compared."]


def test_many_faults_are_counted():
    data = fat(bits=32, clusters=200, chains=(), table={2: 3, 3: 4, 4: 5, 5: 0xFFFFFFF},
               data={2: b"".join(entry(b"F%d" % n, 0, 1) for n in range(60))})  # fmt: skip
    assert faults(data)[-1] == "10 more faults of members."
    assert limits.MAX_MEMBERS > 60


# Outside

OUTSIDE = pytest.mark.skipif(
    not all(shutil.which(tool) for tool in ("mkfs.fat", "mcopy", "mdir", "mattrib")),
    reason="needs Debian's dosfstools and mtools",
)


def tree(folder: Path) -> dict[str, bytes]:
    """Files with names of every sort, by their paths."""
    chance = random.Random(3)
    made = {
        "HERON.ROM": chance.randbytes(70_000),
        "lower.txt": b"short and lower\r\n",
        "Long Name with spaces.efi": chance.randbytes(3_000),
        "empty": b"",
        "Folder/inner/Grüße.txt": b"hello",
        "Folder/" + "n" * 200 + ".bin": chance.randbytes(512),
        **{f"Folder/many/file number {number}.dat": bytes((number,)) * number for number in range(80)},
    }
    for name, data in made.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    return made


@OUTSIDE
@pytest.mark.outside
@pytest.mark.parametrize(
    ("bits", "kilobytes", "options"),
    [
        (12, 1_440, ()),
        (12, 2_880, ("-s", "4")),
        (16, 20_000, ()),
        (16, 40_000, ("-S", "2048")),
        (32, 40_000, ("-s", "1")),
        (32, 64_000, ("-R", "64", "-f", "1")),
    ],
)
def test_images_of_mkfs_and_mtools(tmp_path: Path, bits: int, kilobytes: int, options: tuple[str, ...]):
    image, source = tmp_path / "image", tmp_path / "source"
    made = tree(source)
    named = ("-n", "BENCH", "-F", str(bits))
    subprocess.run(["mkfs.fat", "-C", *named, *options, image, str(kilobytes)], check=True, capture_output=True)
    copy = ["mcopy", "-s", "-i", image, *sorted(source.iterdir()), "::/"]
    subprocess.run(copy, check=True, env={"LC_ALL": "C.UTF-8", "PATH": "/usr/bin:/bin"})
    # Holes, so that what is copied next lies scattered.
    for number in range(0, 80, 2):
        name = f"Folder/many/file number {number}.dat"
        subprocess.run(["mdel", "-i", image, "::/" + name], check=True)
        del made[name]
    (tmp_path / "late").write_bytes(bytes(range(256)) * 300)
    subprocess.run(["mcopy", "-i", image, tmp_path / "late", "::/late"], check=True)
    made["late"] = bytes(range(256)) * 300
    data = image.read_bytes()
    assert formats.read(BytesView(data)).kind == "archive/fat"
    reading = read(data)
    assert reading.title.startswith(f"FAT{bits} image")
    assert not reading.faults, reading.faults
    assert reading.value("label") == "BENCH"
    assert reading.value("deleted_entries") == 40 * 3, "two long parts and a short entry each"
    found = {one.name: hashlib.sha256(content(data, one.name)).hexdigest() for one in reading.members if not one.folder}
    assert found == {name: hashlib.sha256(data).hexdigest() for name, data in made.items()}
    assert {one.name for one in reading.members if one.folder} == {"Folder/", "Folder/inner/", "Folder/many/"}


@OUTSIDE
@pytest.mark.outside
def test_short_names_against_mdir(tmp_path: Path):
    image, source = tmp_path / "image", tmp_path / "source"
    tree(source)
    subprocess.run(["mkfs.fat", "-C", image, "1440"], check=True, capture_output=True)
    subprocess.run(["mcopy", "-s", "-i", image, source / "Folder" / "many", "::/"], check=True)
    told = subprocess.run(["mdir", "-i", image, "-f", "::/many"], check=True, capture_output=True, text=True).stdout
    lines = [line.split() for line in told.splitlines() if "~" in line[:9]]
    listed = {f"{one[0]}.{one[1]}": " ".join(one[5:]) for one in lines}
    listing = fat_image.files(BytesView(image.read_bytes()))
    assert listing is not None
    ours = {one.short_name: one.name.removeprefix("many/") for one in listing.files if not one.folder}
    assert len(listed) == 80
    assert ours == listed


def test_the_sum_is_the_specifications():
    """By the C code of the specification, worked on paper: the sum of eleven spaces."""
    assert checksum(b" " * 11) == 0xF7
    assert LABEL == 8


@WIDTHS
def test_long_runs_are_followed_as_single_steps_are(bits: int, monkeypatch: pytest.MonkeyPatch):
    """Chains of runs and jumps of every length: what is looked at all at once is what single steps find."""
    chance = random.Random(bits)
    clusters = {12: 4_000, 16: 9_000, 32: 9_000}[bits]
    free = list(range(3, clusters + 2))
    chains: list[tuple[int, ...]] = []
    while len(free) > 100:
        chain: list[int] = []
        for _ in range(chance.randrange(1, 4)):
            at, length = chance.randrange(max(1, len(free))), chance.choice((1, 60, 65, 1_023, 1_024, 1_025, 2_500))
            chain += free[at : at + length]
            del free[at : at + length]
        chains.append(tuple(chain))
    chains = [chain for chain in chains if chain][:15]
    sizes = [512 * len(chain) - chance.randrange(512 if chance.randrange(2) else 512 * len(chain)) for chain in chains]
    listed = b"".join(
        entry(b"F%d" % n, chain[0], size) for n, (chain, size) in enumerate(zip(chains, sizes, strict=True))
    )
    data = fat(listed, bits=bits, clusters=clusters, chains=tuple(chains), table={chains[0][-1]: 2})
    found = files(data)
    monkeypatch.setattr("catalogue.formats.fat_table._RUN", 1 << 30)
    assert files(data) == found
    for number, (chain, size) in enumerate(zip(chains, sizes, strict=True)):
        places = [
            data_offset + at for data_offset, length in found[f"F{number}"].extents for at in range(0, length, 512)
        ]
        first = min(one.extents[0][0] - (chains[int(name[1:])][0] - 2) * 512 for name, one in found.items())
        assert places == [first + (cluster - 2) * 512 for cluster in chain[: -(-size // 512)]]
