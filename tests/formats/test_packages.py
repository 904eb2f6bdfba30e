"""Debian and RPM packages, ar and cpio archives: by hand, and as dpkg-deb, ar, rpmbuild and GNU cpio make them."""

from __future__ import annotations

import hashlib
import random
import shutil
import struct
from pathlib import Path

import pytest

from catalogue.formats import ar_archive, archive_items, cpio, limits, rar, rpm_header, rpm_package
from catalogue.formats.archive_items import Item, Unreadable
from catalogue.formats.reader import Looks
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.formats import build_packs
from tests.formats.build_packs import DEVICE, FOLDER, LINK, Entry, ar, deb, rpm
from tests.formats.build_packs import cpio as build_cpio
from tests.reference import pack_programs

FORMS = pytest.mark.parametrize("form", [b"070701", b"070702", b"070707"])
ROM = b"\x55\xaa" + random.Random(2).randbytes(70_001)


def read_cpio(data: bytes) -> Reading:
    reading = cpio.read(BytesView(data))
    assert reading is not None
    return reading


def unpacked(data: bytes) -> dict[str, bytes | str]:
    """Each plain file of a cpio archive: its bytes, or why they cannot be had."""
    walk = cpio.Walk(BytesView(data))
    answer: dict[str, bytes | str] = {}
    for number, one in enumerate(walk.items()):
        try:
            answer[one.name] = b"".join(walk.chunks(one, number))
        except Unreadable as error:
            answer[one.name] = str(error)
    return answer


@FORMS
def test_a_sound_cpio_archive(form: bytes):
    tree = (Entry(b"lib", b"", FOLDER, 2), Entry(b"lib/a.rom", ROM), Entry(b"lib/b", b"a.rom", LINK),
            Entry(b"tty", b"", DEVICE), Entry(b"z", b"zz"))  # fmt: skip
    data = build_cpio(*tree, form=form)
    reading = read_cpio(data)
    assert (reading.kind, reading.title) == ("archive/cpio", "cpio archive of 4 files")
    assert not reading.faults
    assert [one.text for one in reading.notes] == ["2 members are no file (links, devices) and not followed."]
    assert [(one.name, one.size, one.folder, one.fault) for one in reading.members] == [
        ("lib", 0, True, ""),
        ("lib/a.rom", len(ROM), False, ""),
        ("lib/b", 5, False, archive_items.LINK),
        ("tty", 0, False, archive_items.DEVICE),
        ("z", 2, False, ""),
    ]
    got = unpacked(data)
    assert (got["lib/a.rom"], got["z"], got["lib/b"]) == (ROM, b"zz", archive_items.LINK)


@pytest.mark.outside
@pytest.mark.parametrize("form", ["newc", "crc", "odc"])
def test_what_gnu_cpio_packs(form: str, tmp_path: Path):
    made = pack_programs.files(tmp_path)
    (tmp_path / "link").symlink_to("empty")
    (tmp_path / "hard").hardlink_to(tmp_path / "HERON.ROM")
    names = "\n".join((".", "notes", *made, "link", "hard")).encode()
    data = pack_programs.run("cpio", "cpio", "-o", "-H", form, "--quiet", folder=tmp_path, data=names)
    reading = read_cpio(data)
    assert not reading.faults
    got = unpacked(data)
    assert {name: got[name] for name in made if name != "HERON.ROM"} == {
        name: body for name, body in made.items() if name != "HERON.ROM"
    }
    whole = [got[name] for name in ("HERON.ROM", "hard") if isinstance(got[name], bytes)]
    assert made["HERON.ROM"] in whole
    assert all(one == made["HERON.ROM"] for one in whole)
    assert got["link"] == archive_items.LINK
    listed = pack_programs.run("cpio", "cpio", "-t", "--quiet", folder=tmp_path, data=data).decode().splitlines()
    assert [one.name for one in reading.members] == listed


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (build_cpio(Entry(b"a"), close=False), "before its closing entry"),
        (build_cpio(Entry(b"a", size=9_999)), "is cut short"),
        (build_cpio(Entry(b"a", b"x" * 99))[:-100], "closing entry"),
        (build_cpio(Entry(b"a\0b")), "one zero byte"),
        (build_cpio(Entry(b"a", names=1)), "one zero byte"),
        (build_cpio(Entry(b"../up")), "climbs out"),
        (build_cpio(Entry(b"/etc/passwd")), "absolute path"),
        (build_cpio(Entry(b"a\nb")), "control characters"),
        (build_cpio(Entry(b"n" * 70_000)), "a name of 70001 bytes"),
        (build_cpio(Entry(b"twice"), Entry(b"twice")), "more than once"),
    ],
)
def test_damaged_and_odd_cpio_archives(data: bytes, says: str):
    assert says in " ".join(one.text for one in read_cpio(data).faults)


def test_sums_of_cpio_members():
    assert "says 00000005" in str(unpacked(build_cpio(Entry(b"a", check=5), form=b"070702"))["a"])


def test_more_files_than_are_read(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(cpio, "MAX_MEMBERS", 3)
    reading = read_cpio(build_cpio(*(Entry(b"%d" % number) for number in range(5))))
    assert len(reading.members) == 3
    assert "3 members are shown" in reading.faults[0].text
    monkeypatch.setattr(ar_archive, "MAX_MEMBERS", 3)
    listing = ar_archive.listing(BytesView(ar(*((b"%d/" % number, b"x") for number in range(5)))))
    assert listing is not None
    assert len(listing.items) == 3
    assert "3 members are shown" in listing.faults[0]


def test_longest_names_of_all(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(cpio, "MAX_DIRECTORY_BYTES", 100)
    assert "1 members are shown" in read_cpio(build_cpio(Entry(b"a" * 60), Entry(b"b" * 60))).faults[0].text


def test_bytes_behind_a_cpio_archive():
    assert not read_cpio(build_cpio(Entry(b"a")) + bytes(512)).notes
    assert read_cpio(build_cpio(Entry(b"a")) + b"more").notes[0].code == "data-after-end"


def read_ar(data: bytes) -> Reading:
    reading = ar_archive.read(BytesView(data))
    assert reading is not None
    return reading


def test_a_debian_package():
    reading = read_ar(deb(b"data!"))
    assert (reading.kind, reading.title) == ("archive/deb", "Debian package of 3 files")
    assert not reading.faults
    assert reading.value("package_format") == "2.0"
    assert [one.name for one in reading.members] == ["debian-binary", "control.tar.xz", "data.tar.xz"]
    assert sum(one.length for one in reading.spans) + 8 + 1 + 1 == len(deb(b"data!"))


@pytest.mark.outside
@pytest.mark.parametrize("how", ["none", "gzip", "xz"])
def test_what_dpkg_deb_packs(how: str, tmp_path: Path):
    if shutil.which("dpkg-deb") is None:
        pytest.skip("dpkg-deb is not here")
    root = tmp_path / "root"
    pack_programs.files(root / "lib")
    (root / "DEBIAN").mkdir()
    (root / "DEBIAN" / "control").write_text(
        "Package: heron\nVersion: 1\nArchitecture: all\nMaintainer: Bench <bench@example.org>\nDescription: test\n"
    )
    pack_programs.run("dpkg", "dpkg-deb", f"-Z{how}", "-b", root, tmp_path / "out.deb", folder=tmp_path)
    data = (tmp_path / "out.deb").read_bytes()
    reading = read_ar(data)
    assert reading.kind == "archive/deb"
    assert not reading.faults
    found = ar_archive.listing(BytesView(data))
    assert found is not None
    tar = b"".join(ar_archive.chunks(BytesView(data), found, 2))
    plain = pack_programs.run("dpkg", "dpkg-deb", "--fsys-tarfile", tmp_path / "out.deb", folder=tmp_path)
    if how == "none":
        assert tar == plain
    else:
        import gzip
        import lzma

        assert (gzip if how == "gzip" else lzma).decompress(tar) == plain


@pytest.mark.outside
def test_what_ar_packs(tmp_path: Path):
    """Long names of GNU ar (binutils)."""
    if shutil.which("ar") is None:
        pytest.skip("ar is not here")
    names = ["a.rom", "a name that is longer than fifteen signs.rom", "odd"]
    for name in names:
        (tmp_path / name).write_bytes(name.encode() * 3)
    pack_programs.run("binutils", "ar", "qc", "out.a", *names, folder=tmp_path)
    data = (tmp_path / "out.a").read_bytes()
    found = ar_archive.listing(BytesView(data))
    assert found is not None
    assert not found.faults
    got = {one.name: b"".join(ar_archive.chunks(BytesView(data), found, at)) for at, one in enumerate(found.items)}
    assert got == {name: name.encode() * 3 for name in names}
    assert read_ar(data).kind == "archive/ar"


def test_long_names_of_bsd():
    data = ar((b"#1/12", b"a/b.rom\0\0\0\0\0body"))
    found = ar_archive.listing(BytesView(data))
    assert found is not None
    assert (found.items[0].name, found.items[0].size) == ("a/b.rom", 4)
    assert b"".join(ar_archive.chunks(BytesView(data), found, 0)) == b"body"


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (deb(version=b"3.0\n"), "not 2.x"),
        (ar((b"debian-binary", b"2.0\n")), "no members called control.tar"),
        (ar((b"debian-binary", b"2.0\n"), *((b"data.tar.xz", b"x"),) * 2), "2 members called data.tar"),
        (deb()[:-2], "is cut short"),
        (ar((b"a", b"b"), close=b"xx"), "no whole header"),
        (ar((b"../a", b"b")), "climbs out"),
        (ar((b"/7", b"b")), "has no name"),
    ],
)
def test_damaged_packages(data: bytes, says: str):
    assert says in " ".join(one.text for one in read_ar(data).faults)


def read_rpm(data: bytes) -> Reading:
    reading = rpm_package.read(BytesView(data))
    assert reading is not None
    return reading


def test_an_rpm_package():
    data = rpm(b"payload!")
    reading = read_rpm(data)
    assert (reading.kind, reading.title) == ("archive/rpm", "RPM package heron-firmware-12.04.00-3.noarch")
    assert not reading.faults
    assert [reading.value(f"{name}_matches") for name in ("header_sha1", "header_sha256", "payload_digest", "md5")] == [
        True
    ] * 4
    (member,) = reading.members
    assert (member.name, member.size) == ("payload.cpio.xz", 8)
    (claim,) = reading.versions
    assert (claim.value, claim.source) == ("12.04.00", "RPM header, VERSION")
    assert data[claim.offset :].startswith(b"12.04.00\0")
    assert reading.value("signatures") == ()
    assert [(one.value, one.source) for one in reading.dates] == [("2023-11-14", "RPM header, BUILDTIME")]
    assert read_rpm(rpm(signed=True)).value("signatures") == ("RSA",)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (rpm(digest="0" * 64), "payload_digest"),
        (rpm(md5=bytes(16)), "(md5)"),
        (rpm(size=7), "its signature header says 7"),
        (rpm(behind=b"more"), "its signature header says"),
        (rpm(b"x" * 50)[:-20], "its signature header says"),
        (rpm(b""), "is missing"),
        (rpm()[:200], "ends inside a header"),
        (rpm()[:112] + b"", "ends inside a header"),
    ],
)
def test_damaged_rpm_packages(data: bytes, says: str):
    assert says in " ".join(one.text for one in read_rpm(data).faults)


def test_a_changed_byte_is_found_by_a_digest():
    for at in (-1, -len(b"payload") - 30):
        data = bytearray(rpm())
        data[at] ^= 1
        assert [one.code for one in read_rpm(bytes(data)).faults][:1] == ["archive-damaged"]


def test_too_long_to_be_hashed(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(rpm_package, "MAX_DIGESTED", 3)
    reading = read_rpm(rpm())
    assert {one.code for one in reading.notes} == {"digest-not-compared"}
    assert reading.value("payload_digest_matches") is None


@pytest.mark.parametrize("form", [{"count": limits.MAX_RPM_TAGS + 1}, {"size": limits.MAX_RPM_HEADER + 1}])
def test_headers_too_large(form: dict[str, int]):
    found = rpm_header.header(BytesView(build_packs.rpm_header((1000, 6, "a"), **form)), 0)
    assert found is not None
    assert "too large to read" in found.fault
    assert not found.tags


def test_tags_outside_their_header():
    raw = bytearray(build_packs.rpm_header((1000, 6, "abc")))
    raw[24:28] = struct.pack(">I", 90)
    found = rpm_header.header(BytesView(bytes(raw)), 0)
    assert found is not None
    assert "outside its header" in found.fault


@pytest.mark.outside
@pytest.mark.parametrize(("how", "name"), [("w9.gzdio", "gz"), ("w2.xzdio", "xz"), ("w3.zstdio", "zst")])
def test_what_rpmbuild_packs(how: str, name: str, tmp_path: Path):
    made = pack_programs.files(tmp_path)
    path = pack_programs.rpm_package(tmp_path, how, tmp_path / "HERON.ROM")
    reading = read_rpm(path.read_bytes())
    assert not reading.faults
    assert not reading.notes
    assert reading.members[0].name == f"payload.cpio.{name}"
    assert reading.value("payload_digest_matches") is reading.value("header_sha256_matches") is True
    asked = "%{NAME}|%{VERSION}|%{RELEASE}|%{ARCH}|%{PAYLOADCOMPRESSOR}|%{BUILDTIME}|%{PAYLOADDIGEST}"
    said = pack_programs.run("rpm", "rpm", "-qp", "--qf", asked, path, folder=tmp_path).decode().split("|")
    told = ("name", "version", "release", "architecture", "payload_compressor", "built", "payload_digest")
    assert [str(reading.value(one)) for one in told] == said
    plain = pack_programs.run("rpm2cpio", "rpm2cpio", path, folder=tmp_path)
    assert unpacked(plain)["./lib/HERON.ROM"] == made["HERON.ROM"]
    view = BytesView(path.read_bytes())
    found = rpm_package.package(view)
    assert found is not None
    assert hashlib.sha256(b"".join(rpm_package.chunks(view, found))).hexdigest() == said[-1]


def test_rar_is_recognised_and_no_more():
    for form in (b"Rar!\x1a\x07\0", b"Rar!\x1a\x07\1\0"):
        reading = rar.read(BytesView(form + bytes(20)))
        assert reading is not None
        assert reading.faults[0].code == "archive-not-opened"
        assert not reading.members
    assert rar.looks_like(BytesView(b"Rar! is a word")) is Looks.NO


def test_a_long_list_of_faults_is_cut():
    items = [Item("a", 1, 1, at, at, fault="is wrong") for at in range(80)]
    reading = archive_items.reading("ar", "archive/ar", "x", 99, items)
    assert len(reading.faults) == 51
    assert reading.faults[-1].text == "30 more faults of members."
