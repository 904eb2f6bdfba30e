"""7z archives: by hand, and as Debian's `7zip` (7-Zip) makes them."""

from __future__ import annotations

import random
import struct
import tracemalloc
from pathlib import Path

import pytest

from catalogue import formats
from catalogue.formats import archive_items, limits, seven_zip, seven_zip_branches, seven_zip_coders, seven_zip_header
from catalogue.formats.archive_items import Differs, Unreadable
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.formats import build_7z
from tests.formats.build_7z import COPY, File, archive
from tests.formats.build_pe import MadePe, pe
from tests.reference import pack_programs

FILES = (File("a.rom", b"\x55\xaa" + bytes(40)), File("docs", b"", folder=True), File("docs/b.txt", b"hello " * 50))


def read(data: bytes) -> Reading:
    reading = seven_zip.read(BytesView(data))
    assert reading is not None
    return reading


def unpacked(data: bytes) -> dict[str, bytes | str]:
    """Each file's bytes, or why they cannot be had."""
    view = BytesView(data)
    found = seven_zip.archive(view)
    assert found is not None
    unpacker = seven_zip.Unpacker(view, found)
    answer: dict[str, bytes | str] = {}
    for index, one in enumerate(found.items):
        if not one.folder:
            try:
                answer[one.name] = b"".join(unpacker.chunks(index))
            except Unreadable as error:
                answer[one.name] = str(error)
    return answer


@pytest.mark.parametrize("packed_header", [False, True])
@pytest.mark.parametrize("coder", [COPY, build_7z.LZMA2])
def test_a_sound_archive(packed_header: bool, coder: bytes):
    data = archive(*FILES, coder=coder, pack_header=packed_header)
    reading = read(data)
    assert (reading.kind, reading.title) == ("archive/7z", "7z archive of 2 files")
    assert not reading.faults
    assert not reading.notes
    assert [(one.name, one.size, one.folder, one.fault) for one in reading.members] == [
        ("a.rom", 42, False, ""),
        ("docs", 0, True, ""),
        ("docs/b.txt", 300, False, ""),
    ]
    assert reading.value("solid") is True
    end = 0
    for span in reading.spans:
        assert span.offset == end
        end += span.length
    assert end == len(data)
    assert unpacked(data) == {"a.rom": FILES[0].body, "docs/b.txt": FILES[2].body}


METHODS = [
    ["-mx=1"], ["-mx=5"], ["-mx=9"], ["-m0=lzma"], ["-m0=lzma2", "-ms=off"], ["-m0=copy"], ["-m0=bzip2"],
    ["-m0=deflate"], ["-m0=delta:4", "-m1=lzma2"], ["-m0=bcj", "-m1=lzma"], ["-m0=arm", "-m1=lzma"],
    ["-m0=ppc", "-m1=lzma2"], ["-mhc=off"],
    ["-m0=bcj2", "-m1=lzma:d23", "-m2=lzma:d19", "-m3=lzma:d19", "-mb0:1", "-mb0s1:2", "-mb0s2:3"],
]  # fmt: skip


@pytest.mark.outside
@pytest.mark.parametrize("how", METHODS, ids=" ".join)
def test_what_7_zip_packs(how: list[str], tmp_path: Path):
    made = pack_programs.files(tmp_path / "in")
    pack_programs.run("7zip", "7zz", "a", "-bd", *how, tmp_path / "out.7z", ".", folder=tmp_path / "in")
    data = (tmp_path / "out.7z").read_bytes()
    assert not read(data).faults
    assert unpacked(data) == made
    listed = pack_programs.run("7zip", "7zz", "l", "-slt", "-ba", tmp_path / "out.7z", folder=tmp_path).decode()
    crcs = {block.split("\n")[0]: block for block in listed.split("Path = ")[1:]}
    for one in read(data).members:
        assert one.crc32 is None or f"CRC = {one.crc32:08X}" in crcs[one.name]


@pytest.mark.outside
@pytest.mark.parametrize(
    ("how", "code", "says"),
    [
        (["-psecret"], "archive-locked", "is encrypted"),
        (["-psecret", "-mhe=on"], "archive-locked", "list of files is encrypted"),
        (["-m0=ppmd"], "archive-damaged", "packed by PPMd, which is not read"),
        (["-m0=deflate64"], "archive-damaged", "packed by Deflate64, which is not read"),
    ],
)
def test_what_is_not_opened_says_so(how: list[str], code: str, says: str, tmp_path: Path):
    pack_programs.files(tmp_path / "in")
    pack_programs.run("7zip", "7zz", "a", "-bd", *how, tmp_path / "out.7z", ".", folder=tmp_path / "in")
    data = (tmp_path / "out.7z").read_bytes()
    reading = read(data)
    assert {one.code for one in reading.faults} == {code}
    assert says in reading.faults[0].text
    assert all(says in str(one) for name, one in unpacked(data).items() if name != "empty")


@pytest.mark.outside
def test_volumes(tmp_path: Path):
    pack_programs.files(tmp_path / "in")
    pack_programs.run("7zip", "7zz", "a", "-bd", "-v30k", tmp_path / "out.7z", ".", folder=tmp_path / "in")
    reading = read((tmp_path / "out.7z.001").read_bytes())
    assert [one.code for one in reading.faults] == ["archive-damaged"]
    assert "first part of a split archive" in reading.faults[0].text
    assert formats.read(BytesView((tmp_path / "out.7z.002").read_bytes())).kind == "opaque"


@pytest.mark.outside
def test_a_file_in_the_middle_is_had_without_those_before(tmp_path: Path):
    """Members of a solid block in any order: the block is unpacked again where one before is asked for."""
    made = pack_programs.files(tmp_path / "in")
    pack_programs.run("7zip", "7zz", "a", "-bd", tmp_path / "out.7z", ".", folder=tmp_path / "in")
    view = BytesView((tmp_path / "out.7z").read_bytes())
    found = seven_zip.archive(view)
    assert found is not None
    unpacker = seven_zip.Unpacker(view, found)
    for index in (3, 1, 2, 0, 4, 1):
        one = found.items[index]
        if not one.folder:
            assert b"".join(unpacker.chunks(index)) == made[one.name]
    half = unpacker.chunks(next(i for i, one in enumerate(found.items) if one.size > 1 << 18 or one.name == "prog.exe"))
    next(half)
    half.close()
    for index, one in enumerate(found.items):
        if not one.folder:
            assert b"".join(unpacker.chunks(index)) == made[one.name]


def test_wrong_bytes_differ():
    view = BytesView(archive(File("a", b"wrong", crc=1), File("b", b"right")))
    found = seven_zip.archive(view)
    assert found is not None
    unpacker = seven_zip.Unpacker(view, found)
    given = []
    with pytest.raises(Differs, match="its directory says 00000001"):
        given += list(unpacker.chunks(0))
    assert b"".join(unpacker.chunks(1)) == b"right"


def test_damaged_bytes_spoil_what_lies_behind_them():
    data = bytearray(archive(*(File(f"{number}", random.Random(number).randbytes(9_000)) for number in range(4))))
    data[32 + 15_000] ^= 0xFF
    got = unpacked(bytes(data))
    assert isinstance(got["0"], bytes)
    assert isinstance(got["1"], str)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (archive(*FILES)[:40], "behind its end"),
        (archive(*FILES)[:31], ""),
        (archive(*FILES, crc=5), "its CRC is wrong"),
        (archive(*FILES, listed=b"\x02\0"), "neither of the two marks"),
        (archive(*FILES, listed=b"\x01\x03\0"), "elsewhere"),
        (archive(*FILES, listed=b"\x01\x04"), "ends too early"),
        (archive(*FILES, listed=b"\x01\x05" + build_7z.number(limits.MAX_MEMBERS + 1)), "counts 100001"),
        (archive(*FILES, listed=build_7z.header(*FILES, counts=2)), "it"),
        (archive(*FILES, header_size=limits.MAX_DIRECTORY_BYTES + 1), "behind its end"),
        (archive(*FILES, header_offset=1 << 63, header_size=1 << 62), "behind its end"),
    ],
)
def test_damaged_lists(data: bytes, says: str):
    reading = seven_zip.read(BytesView(data))
    if not says:
        assert reading is None
        return
    assert reading is not None
    assert says in reading.faults[0].text
    assert reading.faults[0].code == "archive-damaged"
    assert not reading.members


def test_the_first_header_has_a_crc():
    data = bytearray(archive(*FILES))
    data[12] ^= 1
    assert "first header is damaged" in read(bytes(data)).faults[0].text


def test_a_header_in_its_own_header_ends(monkeypatch: pytest.MonkeyPatch):
    """A list packed many times over is not followed for ever."""
    listed = build_7z.header(*FILES)
    data = build_7z.packed(b"".join(one.body for one in FILES))
    for _ in range(6):
        small = build_7z.packed(listed)
        start = len(data)
        data += small
        listed = (
            b"\x17" + build_7z.streams([len(small)], b"\x01" + build_7z.LZMA2, [len(listed)], None, start) + b"\0"
        )
    assert "too many times" in read(archive(listed=listed, data=data)).faults[0].text


def test_names_and_kinds_of_members():
    files = (
        File("../up"), File("/abs"), File("C:x"), File("a\\b"), File("link", b"to", attributes=0xA1FF8000 | 0x20),
        File("tty", b"x", attributes=0x21FF8000), File("twice"), File("twice"), File("ok\u202egnp.exe"), File("", b"x"),
        File("point", b"to", attributes=0x400), File("n" * 5000),
    )  # fmt: skip
    reading = read(archive(*files))
    said = " ".join(one.text for one in reading.faults)
    for text in ("climbs out", "absolute path", "names a drive", "more than once", "has no name", "10000 bytes"):
        assert text in said, text
    faults = {one.name: one.fault for one in reading.members}
    assert faults["link"] == faults["point"] == archive_items.LINK
    assert faults["tty"] == archive_items.DEVICE
    assert {one.code for one in reading.notes} == {"archive-odd"}
    got = unpacked(archive(*files))
    assert got["../up"] == got["twice"] == b"piece"
    assert got["link"] == archive_items.LINK


def test_a_window_too_large():
    """The decoder's window is what the header asks for, or the block's size where that is less."""
    one = seven_zip_header.Coder(b"\x21", bytes((40,)))
    assert seven_zip_coders.window(one, 1 << 40) > limits.MAX_DICTIONARY
    assert seven_zip_coders.window(one, 5_000) == 5_000
    listed = build_7z.header(File("a", b"x"), coder=b"\x21\x21\x01\x28", size=4, unpacked=limits.MAX_DICTIONARY + 1)
    data = archive(File("a", b"x"), listed=listed, data=b"\1\0\0x")
    assert "window of more than 64 MiB" in read(data).faults[0].text
    assert "window" in str(unpacked(data)["a"])


@pytest.mark.parametrize(("said", "answer"), [(4, "has bytes of the CRC"), (9, "unpacks to fewer bytes")])
def test_what_unpacks_to_another_size(said: int, answer: str):
    files = (File("a", b"abcdef"),)
    got = unpacked(archive(*files, listed=build_7z.header(*files, unpacked=said)))["a"]
    assert answer in str(got)


def test_a_bomb_is_given_out_in_small_pieces():
    data = archive(File("a", bytes(30 << 20)))
    assert len(data) < 50_000
    view = BytesView(data)
    found = seven_zip.archive(view)
    assert found is not None
    tracemalloc.start()
    sizes = [len(one) for one in seven_zip.Unpacker(view, found).chunks(0)]
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert sum(sizes) == 30 << 20
    assert max(sizes) <= 1 << 20
    assert most < 8 << 20


def test_what_is_passed_over_is_bounded(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(archive_items, "MAX_SKIP_FREE", 1_000)
    monkeypatch.setattr(archive_items, "MAX_SKIP_RATIO", 0)
    view = BytesView(archive(File("a", b"a" * 600), File("b", b"b" * 600), File("c", b"c" * 600)))
    found = seven_zip.archive(view)
    assert found is not None
    unpacker = seven_zip.Unpacker(view, found)
    assert b"".join(unpacker.chunks(1)) == b"b" * 600
    assert b"".join(unpacker.chunks(2)) == b"c" * 600
    with pytest.raises(Unreadable, match="passed over"):
        list(unpacker.chunks(1))


NINE = b"\x09" + b"\x01\0" * 9
UNFIT = [
    (NINE, "counts 9 where 8 are read"),
    (b"\0", "do not fit together"),
    (b"\x01\xc1\0", "a form that is not published"),
    (b"\x01\x11\0\x21\x01", "counts 33 where 32 are read"),
    (b"\x02\x01\0\x11\0\x02\x01\x05\0", "counts 5 where 2 are read"),
    (b"\x03\x01\0\x01\0\x01\0\0\1\0\0", "do not fit together"),
]


@pytest.mark.parametrize(("coders", "says"), UNFIT)
def test_blocks_that_do_not_fit_together(coders: bytes, says: str):
    files = (File("a", b"x"),)
    (fault,) = read(archive(*files, listed=build_7z.header(*files, folder=coders))).faults
    assert says in fault.text


def test_a_coder_with_the_wrong_streams():
    """BCJ2 with one stream."""
    files = (File("a", b"x"),)
    folder = b"\x01\x04\x03\x03\x01\x1b"
    (fault,) = read(archive(*files, listed=build_7z.header(*files, folder=folder))).faults
    assert "wrong number of streams" in fault.text


BEFORE = [b"", b";settings of an installer\r\n", build_7z.archive()[:6] + b"none" + bytes(40)]


@pytest.mark.parametrize("before", BEFORE)
def test_behind_a_program(before: bytes):
    data = pe(MadePe(subsystem=2, overlay=before + archive(*FILES)))
    reading = formats.read(BytesView(data))
    (part,) = (one for one in reading.parts if one.kind == "archive/7z")
    assert data[part.offset :][:2] == b"7z"
    assert part.offset + part.length == len(data)
    assert [one.name for one in part.members] == ["a.rom", "docs", "docs/b.txt"]
    assert not part.faults
    assert "self-extracting" in {one.code for one in reading.notes}


def test_random_bytes_behind_a_program_are_no_archive():
    broken = bytearray(archive(*FILES))
    broken[8] ^= 1
    reading = formats.read(BytesView(pe(MadePe(subsystem=2, overlay=bytes(broken)))))
    assert not [one for one in reading.parts if one.kind == "archive/7z"]


def test_numbers():
    for value in (0, 1, 127, 128, 16_383, 16_384, 2_097_151, 1 << 28, (1 << 56) - 1, 1 << 56, (1 << 64) - 1):
        data = build_7z.number(value)
        assert seven_zip_header._Reader(data).number() == value
    assert struct.pack("<B", 0x7F) == build_7z.number(127)


def test_more_branches_than_code_has():
    """Each costs time: a block of nothing else is given up."""
    chance = random.Random(6)
    inputs = [iter([b"\xe8" * (1 << 20)]), *(iter([chance.randbytes(4 << 20)]) for _ in range(3))]
    with pytest.raises(Unreadable, match="more branches than code has"):
        list(seven_zip_branches.unbranched(inputs, 2 << 20))
