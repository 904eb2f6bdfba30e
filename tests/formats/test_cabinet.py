"""Cabinets: by hand, and as Debian's `gcab` makes and `cabextract` reads them."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from catalogue import formats
from catalogue.formats import archive_items, cabinet, cabinet_data, limits
from catalogue.formats.archive_items import Unreadable
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.formats import build_cab
from tests.formats.build_cab import File, blocks
from tests.formats.build_cab import cabinet as build
from tests.formats.build_pe import MadePe, certificate, pe
from tests.reference import pack_programs

CODE = random.Random(1).randbytes(50_000)


def read(data: bytes) -> Reading:
    reading = cabinet.read(BytesView(data))
    assert reading is not None
    return reading


def unpacked(data: bytes) -> dict[str, bytes | str]:
    """Each file's bytes, or why they cannot be had."""
    view = BytesView(data)
    found = cabinet.cabinet(view)
    assert found is not None
    unpacker = cabinet_data.Unpacker(view, found)
    answer: dict[str, bytes | str] = {}
    for index, one in enumerate(found.items):
        try:
            answer[one.name] = b"".join(unpacker.chunks(index))
        except Unreadable as error:
            answer[one.name] = str(error)
    return answer


@pytest.mark.parametrize("method", [0, 1])
@pytest.mark.parametrize("reserves", [None, (b"abcd", b"ef", b"ghi")])
def test_a_sound_cabinet(method: int, reserves: tuple[bytes, bytes, bytes] | None):
    files = (File(b"a.rom", CODE), File(b"empty", b""), File(b"b.txt", b"hello " * 20_000))
    data = build(*files, method=method, reserves=reserves)
    reading = read(data)
    assert (reading.kind, reading.title) == ("archive/cab", "Cabinet of 3 files")
    assert not reading.faults
    assert not reading.notes
    assert reading.value("packing") == (("stored", "MSZIP")[method],)
    assert [(one.name, one.size) for one in reading.members] == [("a.rom", 50_000), ("empty", 0), ("b.txt", 120_000)]
    end = 0
    for span in reading.spans:
        assert span.offset == end
        end += span.length
    assert end == len(data)
    assert unpacked(data) == {one.name.decode(): one.body for one in files}


@pytest.mark.outside
@pytest.mark.parametrize("how", [[], ["-z"]], ids=["stored", "mszip"])
def test_what_gcab_packs_and_cabextract_reads(how: list[str], tmp_path: Path):
    made = pack_programs.files(tmp_path / "in")
    pack_programs.run("gcab", "gcab", "-c", *how, tmp_path / "out.cab", *made, folder=tmp_path / "in")
    data = (tmp_path / "out.cab").read_bytes()
    assert not read(data).faults
    assert {name.replace("\\", "/"): body for name, body in unpacked(data).items()} == made
    sums = pack_programs.run("cabextract", "cabextract", "-q", "-t", tmp_path / "out.cab", folder=tmp_path).decode()
    assert all(one.name.replace("\\", "/") in sums for one in read(data).members)


@pytest.mark.outside
@pytest.mark.parametrize("method", [0, 1])
def test_cabextract_reads_what_is_made_by_hand(method: int, tmp_path: Path):
    """So that the samples are cabinets."""
    (tmp_path / "a.cab").write_bytes(build(File(b"a.rom", CODE), File(b"b.txt", b"hi" * 40_000), method=method))
    pack_programs.run("cabextract", "cabextract", "-q", "a.cab", folder=tmp_path)
    assert (tmp_path / "a.rom").read_bytes() == CODE
    assert (tmp_path / "b.txt").read_bytes() == b"hi" * 40_000


def test_files_in_any_order():
    data = build(*(File(b"%d" % number, bytes([number]) * 20_000) for number in range(6)))
    view = BytesView(data)
    found = cabinet.cabinet(view)
    assert found is not None
    unpacker = cabinet_data.Unpacker(view, found)
    for index in (5, 0, 3, 3, 1, 4, 2):
        assert b"".join(unpacker.chunks(index)) == bytes([index]) * 20_000


def test_sets_of_cabinets():
    places = {b"before": 0xFFFD, b"whole": 0, b"after": 0xFFFE, b"both": 0xFFFF}
    files = [File(name, folder=folder) for name, folder in places.items()]
    reading = read(build(*files, flags=3, names=(b"1.cab", b"disk 1", b"3.cab", b"disk 3")))
    assert (reading.value("cabinet_before"), reading.value("cabinet_after")) == ("1.cab", "3.cab")
    faults = {one.name: one.fault for one in reading.members}
    assert "cabinet before" in faults["before"]
    assert "cabinet before" in faults["both"]
    assert "next cabinet" in faults["after"]
    assert not faults["whole"]
    assert "archive-split" in {one.code for one in reading.notes}


def test_a_block_that_goes_on_in_the_next_cabinet():
    made = blocks(b"x" * 100, False)
    made[0] = bytes(4) + made[0][4:6] + b"\0\0" + made[0][8:]
    assert "next cabinet" in str(unpacked(build(File(b"a", b"x" * 100), method=0, made=made))["a"])


@pytest.mark.parametrize(("method", "name"), [(2, "Quantum"), (0x1503, "LZX"), (9, "method 9")])
def test_what_is_not_read_says_so(method: int, name: str):
    data = build(File(b"a"), method=method)
    assert f"packed by {name}, which is not read" in read(data).faults[0].text
    assert name in str(unpacked(data)["a"])


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (build(File(b"a", CODE), wrong_sum=True), "checksum is wrong"),
        (build(File(b"a", CODE), method=0, wrong_sum=True), "checksum is wrong"),
        (build(File(b"a", CODE))[:-9], "is cut short"),
        (build(File(b"a", size=9)), "lies behind the end of its folder"),
        (build(File(b"a", start=90)), "lies behind the end of its folder"),
        (build(File(b"a", folder=1)), "a folder that the cabinet does not list"),
        (build(File(b"a"), made=[bytes(4) + b"\5\0\5\0piece"]), "without the mark of MSZIP"),
        (build(File(b"a"), made=[bytes(4) + b"\7\0\5\0CKpiece"]), "does not unpack"),
        (build(File(b"a"), made=[bytes(4) + b"\5\0\6\0piece"], method=0), "two sizes differ"),
        (build(File(b"a"), made=[bytes(4) + b"\5\0\xff\xffpiece"], method=0), "not whole"),
        (build(File(b"a"), made=[bytes(4) + b"\xff\xff\5\0piece"], method=0), "not whole"),
    ],
)
def test_damage(data: bytes, says: str):
    assert says in str(unpacked(data)["a"])


def test_a_block_that_unpacks_to_more_than_it_says():
    (one,) = blocks(bytes(30_000), True)
    made = [bytes(4) + one[4:6] + (100).to_bytes(2, "little") + one[8:]]
    assert "another size" in str(unpacked(build(File(b"a", bytes(100)), made=made))["a"])


def test_no_checksum_is_none():
    assert unpacked(build(File(b"a", CODE), no_sum=True))["a"] == CODE


def test_damage_ends_a_folder_once(monkeypatch: pytest.MonkeyPatch):
    """Files behind the damaged block are not unpacked again and again."""
    data = bytearray(build(*(File(b"%d" % number, CODE[:30_000]) for number in range(8)), method=0))
    data[-150_000] ^= 1
    calls = []
    real = cabinet_data.blocks
    monkeypatch.setattr(cabinet_data, "blocks", lambda *args: calls.append(1) or real(*args))
    got = list(unpacked(bytes(data)).values())
    assert isinstance(got[0], bytes)
    assert isinstance(got[-1], str)
    assert len(calls) <= 3


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (build(File(b"a"), size=9_999), "cut short"),
        (build(File(b"a"), count=3), "counts 3 files, 1 are listed"),
        (build(File(b"a"), version=(3, 2)), "format version is not 1"),
        (build(File(b"a"))[:50], "cut short"),
    ],
)
def test_a_damaged_list(data: bytes, says: str):
    assert says in " ".join(one.text for one in read(data).faults)


def test_folders_are_bounded():
    reading = read(build(File(b"a"), folders=limits.MAX_CAB_FOLDERS + 1))
    assert f"the first {limits.MAX_CAB_FOLDERS} are read" in reading.faults[0].text


def test_names():
    files = (File(b"..\\up"), File(b"\\abs"), File(b"c:x"), File(b"twice"), File(b"twice"), File(b"caf\x82"),
             File("caf\u00e9".encode(), attributes=0xA0), File(b""))  # fmt: skip
    reading = read(build(*files))
    said = " ".join(one.text for one in reading.faults)
    for text in ("climbs out", "absolute path", "names a drive", "more than once", "has no name"):
        assert text in said, text
    assert [one.name for one in reading.members][5:7] == ["caf\u00e9", "caf\u00e9"]
    assert "backslashes: 2" in reading.notes[0].text


def test_a_signature_is_noted():
    """The reserved area of a signed cabinet (from memory): where the signature lies, and how long it is."""
    plain = build(File(b"a"), reserves=(bytes(20), b"", b""))
    area = bytes(4) + len(plain).to_bytes(4, "little") + (7).to_bytes(4, "little") + bytes(8)
    data = build(File(b"a"), reserves=(area, b"", b""), behind=b"signed!")
    reading = read(data)
    assert [one.code for one in reading.notes] == ["signature-not-checked"]
    assert data[-7:] == b"signed!"
    assert reading.value("signature_length") == 7
    assert [one.code for one in read(build(File(b"a"), behind=b"more")).notes] == ["data-after-end"]


def test_what_is_passed_over_is_bounded(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(archive_items, "MAX_SKIP_FREE", 300_000)
    monkeypatch.setattr(archive_items, "MAX_SKIP_RATIO", 0)
    assert all(isinstance(one, bytes) for one in unpacked(build(*(File(b"%d" % n, CODE) for n in range(9)))).values())
    made = blocks(bytes(210_000), False)
    files = [File(b"%d" % number, CODE[:9], start=200_000 - 20_000 * number) for number in range(10)]
    got = unpacked(build(*files, method=0, made=made))
    assert isinstance(got["0"], bytes)
    assert "passed over" in str(got["1"])


def test_checksums():
    """Word by word as [MS-CAB] 3.1 writes it, and all at once."""
    chance = random.Random(5)
    for length in (*range(40), 4_095, 32_768):
        data = chance.randbytes(length)
        assert cabinet_data.checksum(data) == build_cab.checksum(data)


@pytest.mark.parametrize("signed", [b"", certificate()])
def test_behind_a_program(signed: bytes):
    made = build(File(b"a.rom", CODE[:500]))
    data = pe(MadePe(subsystem=2, overlay=made + bytes(-len(made) % 8), certificates=signed))
    reading = formats.read(BytesView(data))
    (part,) = (one for one in reading.parts if one.kind == "archive/cab")
    assert data[part.offset : part.offset + part.length] == made
    assert [one.name for one in part.members] == ["a.rom"]
    assert not part.faults
    assert "self-extracting" in {one.code for one in reading.notes}
