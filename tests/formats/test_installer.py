"""Compound files and installers: by hand, and as Debian's `msitools` (msibuild, msiinfo) makes and lists them."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from catalogue.formats import compound_file, installer
from catalogue.formats.archive_items import Unreadable
from catalogue.formats.compound_file import CompoundFile
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.formats import build_compound
from tests.formats.build_cab import File, cabinet
from tests.formats.build_compound import END, compound, packed_name, property_tables
from tests.reference import pack_programs

SMALL, LARGE = b"small stream", random.Random(4).randbytes(700_001)
IDT = (
    "Property\tValue\r\ns72\tl0\r\nProperty\tProperty\r\nProductName\tHeron tools\r\nProductVersion\t12.04.00\r\n"
    "Manufacturer\tCorvane\r\nProductCode\t{12345678-1234-1234-1234-123456789012}\r\n"
)


def read(data: bytes) -> Reading:
    reading = installer.read(BytesView(data))
    assert reading is not None
    return reading


def unpacked(data: bytes) -> dict[str, bytes | str]:
    """Each stream's bytes, or why they cannot be had."""
    found = installer.package(BytesView(data))
    assert found is not None
    answer: dict[str, bytes | str] = {}
    for one, stream in zip(found.items, found.streams, strict=True):
        try:
            answer[one.name] = b"".join(found.file.chunks(stream))
        except Unreadable as error:
            answer[one.name] = str(error)
    return answer


def test_an_installer():
    data = build_compound.installer({"product.cab": LARGE, "Binary.rom": SMALL, "Icon.none": b""})
    reading = read(data)
    assert (reading.kind, reading.title) == ("archive/msi", "Windows Installer package: Heron tools 12.04.00")
    assert not reading.faults
    assert unpacked(data) == {"product.cab": LARGE, "Binary.rom": SMALL, "Icon.none": b""}
    assert [(one.name, one.size) for one in reading.members] == [
        ("product.cab", len(LARGE)),
        ("Binary.rom", len(SMALL)),
        ("Icon.none", 0),
    ]
    assert sorted(reading.value("tables")) == ["Property", "_StringData", "_StringPool"]
    (claim,) = reading.versions
    assert (claim.value, claim.source) == ("12.04.00", "installer's property ProductVersion")
    assert reading.value("manufacturer") == "Corvane"


@pytest.mark.outside
def test_what_msibuild_makes(tmp_path: Path):
    (tmp_path / "Property.idt").write_text(IDT, newline="")
    (tmp_path / "small").write_bytes(SMALL)
    (tmp_path / "large").write_bytes(LARGE)
    code = "{12345678-1234-1234-1234-123456789012}"
    for how in (
        ["-s", "Heron", "Corvane", ";1033", code],
        ["-i", "Property.idt"],
        ["-a", "product.cab", "large"],
        ["-a", "Binary.rom", "small"],
    ):
        pack_programs.run("msitools", "msibuild", "out.msi", *how, folder=tmp_path)
    data = (tmp_path / "out.msi").read_bytes()
    reading = read(data)
    assert not reading.faults
    assert unpacked(data) == {"product.cab": LARGE, "Binary.rom": SMALL}
    streams = pack_programs.run("msitools", "msiinfo", "streams", "out.msi", folder=tmp_path).decode().splitlines()
    assert {one.name for one in reading.members} == {one for one in streams if one != "\5SummaryInformation"}
    tables = pack_programs.run("msitools", "msiinfo", "tables", "out.msi", folder=tmp_path).decode().split()
    assert set(tables) - {"_SummaryInformation", "_ForceCodepage"} <= set(reading.value("tables"))
    assert [one.value for one in reading.versions] == ["12.04.00"]
    assert (reading.value("product_name"), reading.value("product_code")) == ("Heron tools", code)


@pytest.mark.outside
def test_msiinfo_reads_what_is_made_by_hand(tmp_path: Path):
    """So that the samples are installers as far as their streams go."""
    (tmp_path / "a.msi").write_bytes(build_compound.installer({"product.cab": LARGE, "Binary.rom": SMALL}))
    for name, data in (("product.cab", LARGE), ("Binary.rom", SMALL)):
        assert pack_programs.run("msitools", "msiinfo", "extract", "a.msi", name, folder=tmp_path) == data


def test_texts_of_three_bytes():
    values = {"ProductName": "Grüße", "ProductVersion": "3.1"}
    assert read(compound(property_tables(values, wide=True))).title.endswith("Grüße 3.1")
    assert read(compound(property_tables(values, page=9_999))).value("product_version") == "3.1"


def test_texts_longer_than_64_kib():
    """The length goes on in the next entry (from memory)."""
    tables = property_tables({"ProductName": "a", "ProductVersion": "7"})
    pool, data = (packed_name(name, True) for name in ("_StringPool", "_StringData"))
    long = b"\0\0\1\0" + (70_000 - 65_536).to_bytes(2, "little") + b"\1\0"
    tables[pool] = tables[pool][:4] + long + tables[pool][4:]
    tables[data] = b"x" * 70_000 + tables[data]
    key = packed_name("Property", True)
    tables[key] = b"".join((int.from_bytes(tables[key][at : at + 2], "little") + 1).to_bytes(2, "little")
                           for at in range(0, 8, 2))  # fmt: skip
    assert read(compound(tables)).value("product_version") == "7"


def test_a_table_too_large(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(installer, "MAX_MSI_TABLE", 10)
    reading = read(build_compound.installer())
    assert "too large to be read" in reading.faults[0].text
    assert not reading.versions


def test_other_compound_files_are_listed_and_no_installer():
    reading = read(compound({"WordDocument": LARGE}, clsid="0" * 32))
    assert reading.kind == "archive/compound-file"
    assert [one.name for one in reading.members] == ["WordDocument"]


def test_a_signed_installer():
    data = compound({"\5DigitalSignature": b"x", "a": b"y"})
    assert [one.code for one in read(data).notes] == ["signature-not-checked"]


def test_a_circle_of_sectors():
    """The chain of a stream comes back to itself; one that is the stream's whole length is not walked to its end."""
    data = compound({"a": LARGE}, chain={9: 3})
    assert "go round in a circle" in str(unpacked(data)["a"])


@pytest.mark.parametrize(
    ("chain", "says"),
    [({5: END}, "fewer sectors than its"), ({5: 0xFFFF_FF00}, "behind its end"), ({5: 9_999}, "behind its end")],
)
def test_damaged_chains(chain: dict[int, int], says: str):
    assert says in str(unpacked(compound({"a": LARGE}, chain=chain))["a"])


def test_a_damaged_chain_of_small_sectors():
    data = compound({"a": SMALL * 50})
    found = installer.package(BytesView(data))
    assert found is not None
    broken = compound_file.Stream(("a",), 90, 600, 0)
    with pytest.raises(Unreadable, match="behind its end"):
        list(found.file.chunks(broken))


def test_damage():
    data = compound({"a": LARGE})
    assert "header is damaged" in read(data[:300]).faults[0].text
    assert "cut short" in read(data[:-700]).faults[0].text
    wrong = bytearray(data)
    wrong[30] = 7
    assert "header is damaged" in read(bytes(wrong)).faults[0].text
    assert read(compound({"a": b"x"}, sizes={"a": 1 << 31})).members[0].fault


def test_a_tree_that_comes_back():
    data = compound({"a": b"x", "b": b"y", "c": b"z"}, tree={3: (1, 2)})
    reading = read(data)
    assert "an entry is named twice" in reading.faults[0].text
    assert [one.name for one in reading.members] == ["a", "b", "c"]


def test_tables_are_bounded(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(compound_file, "MAX_FAT_SECTORS", 10)
    assert "too many to be read" in read(compound({"a": LARGE})).faults[0].text
    monkeypatch.undo()
    monkeypatch.setattr(compound_file, "MAX_MEMBERS", 3)
    many = {f"{number}": b"x" for number in range(30)}
    assert len(read(compound(many)).members) < 30


def test_more_tables_than_are_held(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(compound_file, "_HELD_TABLES", 1)
    assert unpacked(compound({"a": LARGE, "b": LARGE[::-1]})) == {"a": LARGE, "b": LARGE[::-1]}


def test_names():
    names = ["../up", "a/b", "x:y", "tab\there", "kaf\u00e9"]
    reading = read(compound(dict.fromkeys(names, b"x")))
    assert [one.name for one in reading.members] == names
    assert [one.code for one in reading.faults] == ["archive-name"] * 3
    for name in ("product.cab", "odd", "_Tables", "A"):
        assert installer.stream_name(packed_name(name, True)) == (name, True)


def test_a_cabinet_inside():
    made = cabinet(File(b"file1", LARGE[:9_000]))
    assert unpacked(build_compound.installer({"product.cab": made}))["product.cab"] == made
    assert CompoundFile(BytesView(b"\xd0\xcf\x11\xe0")).fault
