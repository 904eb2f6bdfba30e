"""Zip archives as readings; real ones made by the zip command where it is there."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from catalogue.formats import zip_archive
from catalogue.formats.reader import Looks
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.formats.build_zip import Entry, archive


def read(data: bytes) -> Reading:
    reading = zip_archive.read(BytesView(data))
    assert reading is not None
    return reading


def test_a_sound_archive():
    data = archive(Entry(b"a.rom", b"x" * 20), Entry(b"docs/", b""), Entry(b"docs/b.txt"), comment=b"Release twelve")
    reading = read(data)
    assert zip_archive.looks_like(BytesView(data)) is Looks.SURE
    assert (reading.kind, reading.title) == ("archive/zip", "Zip archive of 2 files")
    assert not reading.faults
    assert not reading.notes
    assert [(one.name, one.size, one.folder, one.fault) for one in reading.members] == [
        ("a.rom", 20, False, ""),
        ("docs/", 0, True, ""),
        ("docs/b.txt", 5, False, ""),
    ]
    assert reading.value("comment") == "Release twelve"
    assert reading.value("zip64") is False
    # The spans lie side by side and cover every byte.
    end = 0
    for span in reading.spans:
        assert span.offset == end
        end += span.length
    assert end == len(data)


def test_what_the_fields_point_at():
    data = archive(Entry(b"a"), Entry(b"b"), comment=b"said")
    reading = read(data)
    placed = {one.name: data[one.offset : one.offset + one.length] for one in reading.fields if one.offset is not None}
    assert placed.pop("comment") == b"said"
    assert {name: int.from_bytes(raw, "little") for name, raw in placed.items()} == {
        "members": 2,
        "directory_offset": data.index(b"PK\x01\x02"),
    }
    assert {one.name: one.length for one in reading.fields if one.offset is not None} == {
        "members": 2,
        "directory_offset": 4,
        "comment": 4,
    }


def test_no_span_of_nothing():
    for data in (archive(), archive(Entry(b"a")), archive(Entry(b"a"), behind=b"tail")):
        assert all(one.length for one in read(data).spans)
    cut = read(archive(Entry(b"a"))[:-1])
    assert [(one.offset, one.length) for one in cut.spans] == [(0, cut.length)]


def test_a_member_that_lies_behind_the_directory():
    hidden = archive(Entry(b"a"))
    at = len(archive(Entry(b"a", offset=0)))
    reading = read(archive(Entry(b"a", offset=at), comment=hidden[:36]))
    assert [one.text for one in reading.faults] == ["Member 'a' runs past the end of the archive's data."]
    assert [one.name for one in reading.spans] == ["directory", "end record"]


def test_faults_of_members_by_code():
    reading = read(archive(Entry(b"a", flags=1), Entry(b"../b"), Entry(b"c", local_crc32=1)))
    assert [one.code for one in reading.faults] == ["archive-locked", "archive-name", "archive-damaged"]
    assert [(one.encrypted, bool(one.fault)) for one in reading.members] == [
        (True, True),
        (False, False),
        (False, True),
    ]


def test_many_faults_are_summed_up():
    reading = read(archive(*(Entry(b"/%d" % index) for index in range(200))))
    assert len(reading.faults) == 51
    assert reading.faults[-1].text == "150 more faults of members."
    assert len(reading.members) == 200


def test_oddities():
    assert [one.code for one in read(archive(Entry(b"a\\b"))).notes] == ["archive-odd"]
    assert [one.code for one in read(archive(Entry(b"a"), behind=b"tail")).notes] == ["data-after-end"]
    script = read(archive(Entry(b"a"), before=b"#!/bin/sh\n"))
    assert [one.code for one in script.notes] == ["archive-odd"]
    assert script.spans[0].name == "before the archive"
    # A member that lies behind the directory by its own account takes no span.
    swapped = read(archive(Entry(b"a"), Entry(b"b", packed_size=0, offset=0)))
    assert all(span.length >= 0 for span in swapped.spans)
    nameless = read(archive(Entry(b"")))
    assert "member without a name" in {one.name for one in nameless.spans}


def test_without_an_end():
    data = archive(Entry(b"a", b"x" * 100))
    cut = read(data[:-10])
    assert [one.code for one in cut.faults] == ["archive-damaged"]
    assert not cut.members
    first = read(b"PK\x07\x08" + data[:50])
    assert "first volume" in first.faults[0].text


def test_what_is_no_archive():
    for data in (b"", b"PK", b"x" * 100, b"x" * 80 + b"PK\x05\x06" + b"\1" * 18):
        assert zip_archive.looks_like(BytesView(data)) is Looks.NO
    # An end record at the end that leads to no directory.
    lone = b"x" * 80 + b"PK\x05\x06" + bytes(18)
    assert zip_archive.looks_like(BytesView(lone)) is Looks.MAYBE
    assert zip_archive.read(BytesView(lone)) is None


def test_behind_a_program():
    program = b"MZ" + bytes(510)
    data = archive(Entry(b"a", b"body"), before=program)
    part = zip_archive.behind(BytesView(data), 512)
    assert part is not None
    assert (part.offset, part.length) == (512, len(data) - 512)
    assert zip_archive.behind(BytesView(data), 513) is None
    assert zip_archive.behind(BytesView(program), 512) is None
    adjusted = zip_archive.behind(BytesView(archive(Entry(b"a"), before=program, adjusted=True)), 512)
    assert adjusted is not None
    assert adjusted.offset == 512


@pytest.mark.outside
@pytest.mark.skipif(shutil.which("zip") is None, reason="needs the zip command (Debian package zip)")
def test_archives_of_the_zip_command(tmp_path: Path):
    """Info-ZIP's zip: a plain, an encrypted and a split archive, and one appended to other bytes."""
    for index in range(3):
        (tmp_path / f"{index}.rom").write_bytes(bytes([index]) * 1000)
    noise = bytes(range(256)) * 8
    import random

    (tmp_path / "noise.bin").write_bytes(random.Random(2).randbytes(200_000))

    def zipped(*words: str) -> None:
        subprocess.run(["zip", "-q", *words], cwd=tmp_path, check=True)

    zipped("plain.zip", "0.rom", "1.rom", "2.rom")
    plain = read((tmp_path / "plain.zip").read_bytes())
    assert [one.name for one in plain.members] == ["0.rom", "1.rom", "2.rom"]
    assert not plain.faults
    zipped("-P", "secret", "locked.zip", "0.rom")
    locked = read((tmp_path / "locked.zip").read_bytes())
    assert [one.code for one in locked.faults] == ["archive-locked"]
    zipped("-s", "64k", "split.zip", "noise.bin", "0.rom")
    volumes = sorted(tmp_path.glob("split.z*"))
    assert len(volumes) > 2
    for volume in volumes:
        split = zip_archive.read(BytesView(volume.read_bytes()))
        assert split is None or "archive-damaged" in {one.code for one in split.faults}
    (tmp_path / "joined.exe").write_bytes(noise + (tmp_path / "plain.zip").read_bytes())
    zipped("-A", "joined.exe")
    joined = zip_archive.behind(BytesView((tmp_path / "joined.exe").read_bytes()), len(noise))
    assert joined is not None
    assert [one.name for one in joined.members] == ["0.rom", "1.rom", "2.rom"]
    assert not joined.faults
