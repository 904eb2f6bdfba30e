"""UDF images: by hand one field at a time; those of genisoimage and mkudffs (Debian) and pycdlib (PyPI)."""

from __future__ import annotations

import hashlib
import io
import random
import shutil
import struct
import subprocess
from collections.abc import Mapping
from pathlib import Path

import pytest

from catalogue import formats
from catalogue.formats import udf_image
from catalogue.formats.disk_files import HOLE, DiskFile, chunks
from catalogue.formats.reader import Looks
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.formats.build_udf import (
    FOLDER,
    LINK,
    LONG,
    NEXT,
    PLAIN,
    SECTOR,
    START,
    UNRECORDED,
    VOLUME,
    WITHIN,
    entity,
    file_entry,
    file_set,
    identifier,
    logical,
    long_ad,
    named,
    partition,
    recognition,
    root,
    second_map,
    short_ad,
    tag,
    udf,
)
from tests.formats.disk_samples import UDF


def read(data: bytes) -> Reading:
    reading = udf_image.read(BytesView(data))
    assert reading is not None
    return reading


def files(data: bytes) -> dict[str, DiskFile]:
    listing = udf_image.files(BytesView(data))
    assert listing is not None
    return {one.name: one for one in listing.files}


def content(data: bytes, name: str) -> bytes:
    return b"".join(chunks(BytesView(data), files(data)[name]))


def faults(data: bytes) -> list[str]:
    return [one.text for one in read(data).faults]


def notes(data: bytes) -> list[str]:
    return [one.text for one in read(data).notes]


def one_file(body: bytes, more: Mapping[int, bytes] | None = None, **others: object) -> bytes:
    """A volume with one file, A, whose entry is `body`."""
    return udf({1: root(named("A", 2)), 2: body, **(more or {})}, **others)  # type: ignore[arg-type]


def test_a_sound_image():
    reading = read(UDF)
    assert (reading.kind, reading.title) == ("archive/udf", "UDF image of 2 files")
    assert not reading.faults
    assert not reading.notes
    assert [one.name for one in reading.members] == ["HERON.ROM", "notes/", "notes/ü"]
    assert (reading.value("revision"), reading.value("volume_name")) == ("2.01", "SALTMARSH")
    assert reading.value("deleted_entries") == 1
    assert content(UDF, "HERON.ROM") == b"a" * 512 + b"b" * 188
    assert content(UDF, "notes/ü") == b"by hand"
    assert formats.read(BytesView(UDF)).format == "udf"


def test_where_bytes_lie():
    plain = one_file(file_entry(600, short_ad(5, 600)), {5: b"x" * 600})
    assert files(plain)["A"].offset == (START + 5) * SECTOR
    assert content(plain, "A") == b"x" * 600
    far = one_file(file_entry(600, long_ad(5, 512) + long_ad(8, 88), how=LONG), {5: b"x" * 512, 8: b"y" * 88})
    assert content(far, "A") == b"x" * 512 + b"y" * 88
    within = one_file(file_entry(5, b"hello", how=WITHIN))
    assert content(within, "A") == b"hello"
    where = files(within)["A"].offset
    assert where is not None
    assert within[where : where + 5] == b"hello"
    extended = one_file(file_entry(5, b"hello", how=WITHIN, extended=True))
    assert content(extended, "A") == b"hello"
    assert files(one_file(file_entry(0, b"")))["A"].extents == ()


def test_holes():
    areas = short_ad(5, 512) + short_ad(0, 1_024, UNRECORDED) + short_ad(6, 10)
    data = one_file(file_entry(1_546, areas), {5: b"x" * 512, 6: b"y" * 10})
    assert content(data, "A") == b"x" * 512 + bytes(1_024) + b"y" * 10
    assert files(data)["A"].extents[1] == (HOLE, 1_024)
    assert read(data).members[0].header_offset is None


def continued(block: int, areas: bytes) -> bytes:
    return tag(258, block, struct.pack("<LL", 0, len(areas)) + areas)


def test_continued_allocation_descriptors():
    first = short_ad(5, 512) + short_ad(3, SECTOR, NEXT)
    data = one_file(file_entry(600, first), {3: continued(3, short_ad(6, 88)), 5: b"x" * 512, 6: b"y" * 88})
    assert content(data, "A") == b"x" * 512 + b"y" * 88
    circle = one_file(file_entry(600, first), {3: continued(3, short_ad(3, SECTOR, NEXT))})
    assert "run in a circle" in faults(circle)[0]
    broken = one_file(file_entry(600, first))
    assert "break off" in faults(broken)[0]


FAULTY = {
    "outside": (file_entry(600, short_ad(900, 600)), "lies outside its partition"),
    "another partition": (file_entry(5, long_ad(5, 5, 7), how=LONG), "lies outside its partition"),
    "too few bytes": (file_entry(600, short_ad(5, 88)), "has fewer bytes than its directory says"),
    "too few within": (file_entry(600, b"hello", how=WITHIN), "has fewer bytes than its directory says"),
    "strategy": (file_entry(5, short_ad(5, 5), strategy=4_096), "is kept by strategy 4096, which is not read"),
    "file type": (file_entry(5, short_ad(5, 5), kind=248), "is of file type 248"),
    "descriptors": (file_entry(5, short_ad(5, 5), how=2), "has allocation descriptors that are not read"),
    "no entry": (b"", "has an entry that is damaged or missing"),
    "sum": (file_entry(5, short_ad(5, 5))[:4] + b"\xee" + file_entry(5, b"")[5:], "has an entry that is damaged"),
    "CRC": (file_entry(5, short_ad(5, 5))[:-1] + b"\1", "has an entry that is damaged or missing"),
}


@pytest.mark.parametrize("what", FAULTY)
def test_entries_gone_wrong(what: str):
    body, says = FAULTY[what]
    told = faults(one_file(body))
    assert len(told) == 1
    assert says in told[0]


def test_links_streams_and_deleted():
    assert notes(one_file(file_entry(0, b"", LINK))) == ["Links that are left out: 1 ('A')."]
    streamed = one_file(file_entry(0, b"", extended=True, streams=5))
    assert notes(streamed) == ["Files with named streams, which are not read: 1."]


def test_names():
    data = udf(
        {
            1: root(
                identifier(b"\x08caf\xe9", 2),
                identifier(b"\x10\x26\x03", 2),
                identifier(b"\x10\xd8\x00", 2),
                identifier(b"\x07odd\xff", 2),
                identifier(b"\x10\x00a\x00", 2),
            ),
            2: file_entry(0, b""),
        }
    )
    assert list(files(data)) == ["café", "☃", "\ud800", "\x07odd\udcff", "a\x00"]
    unsafe = udf({1: root(named("..", 2), named("a/b", 2), named("C:x", 2)), 2: file_entry(0, b"")})
    assert [one.code for one in read(unsafe).faults] == ["archive-name"] * 3


def test_folders_that_lead_back():
    up = named("up", 1, 2)
    data = udf({1: root(named("d", 2, 2)), 2: file_entry(len(up), up, FOLDER, WITHIN)})
    assert faults(data) == ["Member 'd/up/' is a folder that leads back to one that is listed already."]


def test_two_names_for_one_entry():
    """A hard link is no fault; two entries that share bytes are."""
    linked = udf({1: root(named("A", 2), named("B", 2)), 2: file_entry(5, short_ad(5, 5)), 5: b"hello"})
    assert not faults(linked)
    shared = udf({1: root(named("A", 2), named("B", 3)), 2: file_entry(600, short_ad(5, 600)),
                  3: file_entry(9, short_ad(6, 9))})  # fmt: skip
    assert [text.partition(" shares")[0] for text in faults(shared)] == ["Member 'A'", "Member 'B'"]


def test_damaged_folders():
    good = named("A", 2)
    bad = bytearray(named("B", 2))
    bad[20] ^= 1
    data = udf({1: root(good, bytes(bad), good), 2: file_entry(0, b"")})
    assert faults(data) == ["A file identifier of folder 'its root folder' is damaged; the rest was not read."]
    assert list(files(data)) == ["A"]
    assert faults(udf({1: b""})) == ["Its root folder is damaged or missing."]
    assert faults(udf({1: file_entry(0, b"")})) == ["Its root folder is damaged or missing."]
    short = udf({1: file_entry(600, short_ad(11, 600), FOLDER)})
    assert "Its root folder lies outside its partition." in faults(short)


UNREAD = {
    "virtual": ({1: logical(second_map(b"*UDF Virtual Partition", b""))}, "archive-unread", "virtual allocation table"),
    "map": ({1: logical(second_map(b"*Other", b""))}, "archive-unread", "a type that is not read"),
    "domain": (
        {1: logical(PLAIN).replace(b"*OSTA UDF Compliant", b"*Other UDF Compl.  ")}, "archive-damaged", "descriptors"
    ),
    "block size": ({1: logical(PLAIN, block=600)}, "archive-damaged", "Its logical blocks have 600 bytes."),
    "partition": ({0: partition(12, number=3)}, "archive-damaged", "Its partition 0 is not described."),
    "no partition": ({0: b"\0" * 512}, "archive-damaged", "volume descriptors are damaged"),
    "file set": ({1: logical(PLAIN, file_set=(9, 0))}, "archive-damaged", "The descriptor of its file set"),
    "file set elsewhere": ({1: logical(PLAIN, file_set=(0, 4))}, "archive-damaged", "a partition that is not there"),
    "nine maps": ({1: logical(*[PLAIN] * 9)}, "archive-damaged", "It has 9 partition maps."),
}  # fmt: skip


@pytest.mark.parametrize("what", UNREAD)
def test_volumes_that_cannot_be_read(what: str):
    volume, code, says = UNREAD[what]
    reading = read(udf({1: root()}, volume=volume))
    assert [one.code for one in reading.faults] == [code]
    assert says in reading.faults[0].text
    assert udf_image.looks_like(BytesView(udf({1: root()}, volume=volume))) is Looks.MAYBE


def test_cut_short():
    assert faults(UDF[:-512]) == ["Its anchor is missing: it is cut short or damaged."]
    longer = udf({1: root(named("A", 2)), 2: file_entry(600, short_ad(5, 600))}, volume={0: partition(4_000)})
    assert faults(longer)[0].startswith("It is cut short: its partition ends at")


def test_the_second_descriptor_sequence_and_pointers():
    data = bytearray(UDF)
    second = data[VOLUME * SECTOR : (VOLUME + 3) * SECTOR]
    total = len(data) // SECTOR
    data[88 * SECTOR : 91 * SECTOR] = second
    both = tag(2, total - 1, struct.pack("<LLLL", 4_096, VOLUME, 4_096, 88).ljust(496, b"\0"))
    data[-SECTOR:] = both
    data[VOLUME * SECTOR + 3] ^= 1
    assert notes(bytes(data)) == ["Its first volume descriptor sequence is damaged; the second one was read."]
    assert content(bytes(data), "notes/ü") == b"by hand"
    pointer = tag(3, VOLUME, struct.pack("<LLL", 1, 4_096, 88).ljust(496, b"\0"))
    led = bytearray(UDF)
    led[88 * SECTOR : 91 * SECTOR] = second
    led[VOLUME * SECTOR : (VOLUME + 1) * SECTOR] = pointer
    assert not faults(bytes(led))
    led[88 * SECTOR : 89 * SECTOR] = pointer
    assert faults(bytes(led)) == ["Its volume descriptors are damaged or missing."], "in a circle"


def test_a_sparable_partition():
    """Packets of two sectors; the second one was moved behind the partition."""
    more = struct.pack("<HBBLL", 2, 1, 0, 512, 94)
    table = tag(0, 94, entity(b"*UDF Sparing Table") + struct.pack("<HHLLL", 1, 0, 0, 4, START + 20))
    data = udf(
        {1: root(named("A", 2), named("half", 8)), 2: file_entry(1_500, short_ad(3, 1_500)), 3: b"a" * 512, 4: b"wrong",
         6: b"c" * 512, 8: file_entry(600, short_ad(5, 600)), 20: b"b" * 512 + b"B" * 512},
        maps=(second_map(b"*UDF Sparable Partition", more),), more={94: table}, length=24,
    )  # fmt: skip
    assert content(data, "A") == b"a" * 512 + b"b" * 512 + b"B" * 476
    assert content(data, "half") == b"B" * 512 + b"c" * 88, "from the middle of a packet"
    gone = udf({1: root()}, maps=(second_map(b"*UDF Sparable Partition", more),))
    assert faults(gone) == ["The sparing tables of its partition are damaged or missing."]
    none = udf({1: root()}, maps=(second_map(b"*UDF Sparable Partition", bytes(12)),))
    assert faults(none) == ["The packets of its sparable partition cannot be."]


def test_a_metadata_partition():
    """File set, folders and entries lie in a file of two pieces; the first copy of its entry is damaged."""
    more = struct.pack("<LLLLHB", 1, 2, 0, 1, 1, 0)
    inner = file_entry(2_048, short_ad(4, 1_024) + short_ad(8, 1_024), 250)
    data = udf(
        {
            2: inner,
            4: file_set(1, 1),
            5: root(named("A", 2, 0, 1)),
            8: file_entry(600, long_ad(10, 600), how=LONG),
            10: b"x" * 600,
            1: b"",
        },
        maps=(PLAIN, second_map(b"*UDF Metadata Partition", more)),
        set_at=(0, 1),
        revision=0x0250,
    )
    # Type 250 is a metadata file (UDF 2.60, 2.2.13.1).
    assert not faults(data), faults(data)
    assert content(data, "A") == b"x" * 600
    assert read(data).value("revision") == "2.50"
    gone = udf({1: root()}, maps=(PLAIN, second_map(b"*UDF Metadata Partition", more)))
    assert faults(gone) == ["Its metadata file is damaged or missing."]


@pytest.mark.parametrize(
    "names",
    [(b"NSR03",), (b"BEA01", b"TEA01"), (b"XXXXX", b"BEA01", b"NSR03"), (b"BEA01", b"NSR04")],
    ids=["no beginning", "no NSR", "something else first", "another NSR"],
)
def test_what_is_no_volume(names: tuple[bytes, ...]):
    data = bytearray(UDF)
    data[32 << 10 : (32 << 10) + 6_144] = recognition(*names).ljust(6_144, b"\0")
    assert udf_image.looks_like(BytesView(bytes(data))) is Looks.NO
    assert formats.read(BytesView(bytes(data))).kind == "opaque"


# The bounds


def test_bounds(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(udf_image, "MAX_DISK_DEPTH", 1)
    assert faults(UDF) == ["Member 'notes/' is a folder more than 1 folders deep, which was not read."]
    monkeypatch.setattr(udf_image, "MAX_DISK_DEPTH", 9)
    monkeypatch.setattr(udf_image, "MAX_FOLDER_BYTES", 50)
    assert "cut short or longer than can be read" in faults(UDF)[0]
    monkeypatch.setattr(udf_image, "MAX_FOLDERS_BYTES", 60)
    monkeypatch.setattr(udf_image, "MAX_FOLDER_BYTES", 1 << 20)
    assert any("Its folders hold more than" in text for text in faults(UDF))


def test_more_bounds(monkeypatch: pytest.MonkeyPatch):
    scattered = one_file(file_entry(1_536, short_ad(5, 512) + short_ad(7, 512) + short_ad(9, 512)))
    monkeypatch.setattr("catalogue.formats.udf_entry.MAX_DISK_EXTENTS", 2)
    assert "lies in too many stretches" in faults(scattered)[0]
    monkeypatch.setattr("catalogue.formats.disk_files.MAX_MEMBERS", 1)
    assert faults(UDF)[0] == "It lists more than can be read: 1 members are shown."
    monkeypatch.setattr("catalogue.formats.udf_volume.MAX_DESCRIPTORS", 1)
    assert faults(UDF) == ["Its volume descriptors are damaged or missing."]


def test_continued_too_long(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("catalogue.formats.udf_entry._MOST_AREAS", 1)
    areas = {3: continued(3, short_ad(4, SECTOR, NEXT)), 4: continued(4, short_ad(5, 5))}
    assert "go on too long" in faults(one_file(file_entry(5, short_ad(3, SECTOR, NEXT)), areas))[0]


# Outside


@pytest.mark.outside
@pytest.mark.skipif(shutil.which("genisoimage") is None, reason="needs Debian's genisoimage")
def test_a_bridge_of_genisoimage(tmp_path: Path):
    """Its UDF and ISO 9660 trees name the same files; the UDF one is read, and the other hides nothing."""
    source, out, chance = tmp_path / "source", tmp_path / "made.iso", random.Random(2)
    made = {f"folder {n % 3}/piece {n} ü.rom": chance.randbytes(n * 700) for n in range(1, 40)}
    for name, data in made.items():
        (source / name).parent.mkdir(parents=True, exist_ok=True)
        (source / name).write_bytes(data)
    make = ["genisoimage", "-quiet", "-udf", "-J", "-R", "-input-charset", "utf-8", "-o", str(out), str(source)]
    subprocess.run(make, check=True, capture_output=True)
    data = out.read_bytes()
    reading = formats.read(BytesView(data))
    assert (reading.kind, reading.value("revision")) == ("archive/udf", "1.02")
    assert not reading.faults, reading.faults
    assert [one.text for one in reading.notes] == ["It carries an ISO 9660 volume too."]
    found = {name: content(data, name) for name, one in files(data).items() if not one.folder}
    assert found == made
    # Without its anchors it is still an ISO 9660 image.
    broken = bytearray(data)
    for sector in (256, len(data) // 2_048 - 1, len(data) // 2_048 - 257):
        broken[sector * 2_048 : sector * 2_048 + 16] = bytes(16)
    again = formats.read(BytesView(bytes(broken)))
    assert again.kind == "archive/iso"
    assert "It carries a UDF file system too, which could not be read." in [one.text for one in again.notes]


@pytest.mark.outside
def test_against_pycdlib():
    pycdlib = pytest.importorskip("pycdlib")
    image, chance, made = pycdlib.PyCdlib(), random.Random(4), {}
    image.new(interchange_level=3, udf="2.60")
    image.add_directory("/DIR1", udf_path="/a folder")
    for number in range(50):
        data = chance.randbytes(chance.randrange(1, 9_000))
        made[f"a folder/piece {number}"] = data
        image.add_fp(io.BytesIO(data), len(data), f"/DIR1/P{number}.;1", udf_path=f"/a folder/piece {number}")
    image.add_fp(io.BytesIO(b"iso only"), 8, "/ONLY.TXT;1")
    out = io.BytesIO()
    image.write_fp(out)
    image.close()
    data = out.getvalue()
    reading = read(data)
    assert not reading.faults, reading.faults
    assert "Files that only its ISO 9660 volume lists: 1." in [one.text for one in reading.notes]
    ours = {name: content(data, name) for name, one in files(data).items() if not one.folder}
    assert ours == {**made, "ONLY.TXT": b"iso only"}
    again = pycdlib.PyCdlib()
    again.open_fp(io.BytesIO(data))
    told = {}
    for path, _, inner in again.walk(udf_path="/"):
        for name in inner:
            body = io.BytesIO()
            again.get_file_from_iso_fp(body, udf_path=f"{path.rstrip('/')}/{name}")
            told[f"{path.rstrip('/')}/{name}"[1:]] = hashlib.sha256(body.getvalue()).digest()
    again.close()
    assert told == {name: hashlib.sha256(data).digest() for name, data in made.items()}


@pytest.mark.outside
@pytest.mark.skipif(shutil.which("mkudffs") is None, reason="needs Debian's udftools")
@pytest.mark.parametrize(
    ("media", "block", "revision"),
    [("hd", 512, "1.02"), ("hd", 2_048, "2.01"), ("hd", 4_096, "2.01"), ("dvdrw", 2_048, "2.01"),
     ("cdrw", 2_048, "2.01"), ("dvdram", 2_048, "1.50")],
)  # fmt: skip
def test_empty_volumes_of_mkudffs(tmp_path: Path, media: str, block: int, revision: str):
    """Its volumes hold nothing (what fills them is a kernel's driver); names, revisions and block sizes are told."""
    out = tmp_path / "made.img"
    make = ["mkudffs", "--new-file", "-m", media, "-b", str(block), "-r", revision, "-l", "Saltmarsh bench"]
    subprocess.run([*make, str(out), str((24 << 20) // block)], check=True, capture_output=True)
    data = out.read_bytes()
    reading = formats.read(BytesView(data))
    assert reading.kind == "archive/udf"
    assert not reading.faults, reading.faults
    told = (reading.value("revision"), reading.value("volume_name"), reading.value("block_bytes"))
    assert told == (revision, "Saltmarsh bench", block)
    assert reading.members == ()


@pytest.mark.outside
@pytest.mark.skipif(shutil.which("mkudffs") is None, reason="needs Debian's udftools")
def test_a_write_once_volume_of_mkudffs(tmp_path: Path):
    out = tmp_path / "made.img"
    make = ["mkudffs", "--new-file", "-m", "cdr", "-b", "2048", str(out), "8000"]
    subprocess.run(make, check=True, capture_output=True)
    assert [one.code for one in formats.read(BytesView(out.read_bytes())).faults] == ["archive-unread"]
