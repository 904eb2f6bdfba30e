"""The zip directory: archives made by hand and planted with faults; Python's zipfile as an independent reader."""

from __future__ import annotations

import io
import zipfile
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.formats import zip_directory
from catalogue.formats.view import BytesView
from catalogue.formats.zip_directory import Directory, directory, unsafe_name
from tests.formats.build_zip import Entry, archive

UNIX = 3 << 8
NAMES = st.text(st.characters(codec="utf-8", exclude_characters="\0"), min_size=1, max_size=20)


def found(data: bytes) -> Directory:
    answer = directory(BytesView(data))
    assert answer is not None
    return answer


def faults(data: bytes) -> list[str]:
    return [one.fault for one in found(data).entries]


@pytest.mark.outside
@given(
    st.dictionaries(NAMES, st.tuples(st.binary(max_size=300), st.sampled_from([0, 8, 12, 14])), max_size=6),
    st.binary(max_size=40).filter(lambda comment: b"PK\x05\x06" not in comment),
)
def test_what_zipfile_writes(members: dict[str, tuple[bytes, int]], comment: bytes):
    """Python's zipfile writes it and lists it again: names, sizes, CRCs, offsets; no fault among them.

    A comment that holds the end record's signature is left out: zipfile itself cannot read that one again.
    """
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as writer:
        for name, (body, method) in members.items():
            writer.writestr(zipfile.ZipInfo(name), body, method)
        writer.comment = comment
    data = stream.getvalue()
    answer = found(data)
    infos = zipfile.ZipFile(io.BytesIO(data)).infolist()
    assert [
        (one.name, one.size, one.packed_size, one.crc32, one.header_offset, one.name.endswith("/"))
        for one in answer.entries
    ] == [(one.filename, one.file_size, one.compress_size, one.CRC, one.header_offset, one.is_dir()) for one in infos]
    assert answer.comment == comment
    assert not answer.faults
    assert not any(one.fault for one in answer.entries)
    for one, info in zip(answer.entries, infos, strict=True):
        assert one.data_offset is not None
        packed = data[one.data_offset : one.data_offset + one.packed_size]
        if one.method == 8:
            assert zlib.decompress(packed, -15) == zipfile.ZipFile(io.BytesIO(data)).read(info)
        if one.method == 0:
            assert zlib.crc32(packed) == one.crc32


@pytest.mark.outside
@pytest.mark.parametrize("force", [True, False])
def test_zipfile_reads_what_the_builder_makes(force: bool):
    """The hand-made archives are sound by zipfile's account, ZIP64 and archives behind other bytes included."""
    for before in (b"", b"MZ" * 40):
        data = archive(Entry(b"a.rom", b"body" * 9, method=8), Entry(b"b/", b""), before=before, zip64=force)
        reader = zipfile.ZipFile(io.BytesIO(data))
        assert reader.testzip() is None
        assert [one.filename for one in reader.infolist()] == [one.name for one in found(data).entries]
        assert found(data).start == len(before)
        assert found(data).zip64 is force
        assert [one.header_offset for one in reader.infolist()] == [one.header_offset for one in found(data).entries]


@pytest.mark.outside
def test_a_stream_with_data_descriptors():
    """zipfile writing to a pipe leaves sizes and CRC out of the local headers (bit 3): that is no contradiction."""

    class Pipe(io.RawIOBase):
        def __init__(self) -> None:
            self.taken = bytearray()

        def writable(self) -> bool:
            return True

        def write(self, data) -> int:
            self.taken += data
            return len(data)

    pipe = Pipe()
    with zipfile.ZipFile(pipe, "w", zipfile.ZIP_DEFLATED) as writer:
        writer.writestr("a.rom", b"body" * 100)
    answer = found(bytes(pipe.taken))
    assert answer.entries[0].flags & 8
    assert faults(bytes(pipe.taken)) == [""]


@pytest.mark.parametrize(
    ("entry", "want"),
    [
        (Entry(b"a"), ""),
        (Entry(b"a", flags=1), "is encrypted"),
        (Entry(b"a", flags=0x2001), "is encrypted"),
        (Entry(b"a", disk=3), "begins on volume 4, which is missing"),
        (Entry(b"a", made_by=UNIX, outer=0o120777 << 16), "is a link, which is not followed"),
        (Entry(b"a", made_by=UNIX, outer=0o020644 << 16), "is a device or a pipe"),
        (Entry(b"a", made_by=UNIX, outer=0o100644 << 16), ""),
        (Entry(b"a", made_by=UNIX, outer=0o644 << 16), ""),
        (Entry(b"a", outer=0o120777 << 16), ""),
        (Entry(b"a", method=9), "is packed by method 9, which is not read"),
        (Entry(b"a", size=4), "is stored, but its two sizes differ"),
        (Entry(b"a", local_name=b"b"), "has another name in its own header"),
        (Entry(b"a", local_method=8), "is packed otherwise by its own header"),
        (Entry(b"a", local_flags=1), "is packed otherwise by its own header"),
        (Entry(b"a", local_crc32=1), "has other sizes or another CRC in its own header"),
        (Entry(b"a", local_size=1), "has other sizes or another CRC in its own header"),
        (Entry(b"a", local_flags=8, flags=8, local_crc32=0), ""),
        (Entry(b"a", local_flags=8, flags=8, local_crc32=7), "has other sizes or another CRC in its own header"),
        (Entry(b"a", size=9999, packed_size=9999), "runs past the end of the archive's data"),
        (Entry(b"a", offset=7), "has no header where the directory points"),
        (Entry(b"a", offset=0xFFFFFF), "has no header where the directory points"),
    ],
)
def test_one_entry(entry: Entry, want: str):
    data = archive(entry)
    assert faults(data) == [want]
    line = found(data).entries[0]
    assert data[line.listed_at : line.listed_at + 4] == b"PK\x01\x02"


def test_entries_together():
    assert faults(archive(Entry(b"a"), Entry(b"a", b"other"))) == ["stands in the directory more than once"] * 2
    assert faults(archive(Entry(b"a"), Entry(b"A"))) == ["", ""]
    same = archive(Entry(b"a", b"x" * 50), Entry(b"b", b"y" * 50), Entry(b"a", b"x" * 50, offset=0))
    assert faults(same) == ["stands in the directory more than once", "", "stands in the directory more than once"]
    inner = archive(Entry(b"inner", b"body"))
    nested = archive(Entry(b"outer", inner), Entry(b"inner", b"body", offset=35))
    assert faults(nested) == ["shares its bytes with another member"] * 2


def test_zip64_extra_field():
    wide = (1).to_bytes(2, "little") + (16).to_bytes(2, "little")
    sizes = (5).to_bytes(8, "little") * 2
    entry = Entry(
        b"a", size=0xFFFFFFFF, packed_size=0xFFFFFFFF, extra=b"\x55\x54\0\0" + wide + sizes, local_extra=wide + sizes
    )
    answer = found(archive(entry)).entries[0]
    assert (answer.size, answer.packed_size, answer.fault) == (5, 5, "")
    short = Entry(b"a", size=0xFFFFFFFF, extra=wide[:2] + b"\x04\0" + sizes[:4])
    assert found(archive(short)).entries[0].size == 0xFFFFFFFF


@pytest.mark.parametrize("locator", [b"PK\x06\x08", b"PK\x06\x07"])
def test_a_zip64_locator_that_leads_nowhere(locator: bytes):
    data = archive(Entry(b"a"), zip64=True).replace(b"PK\x06\x07", locator).replace(b"PK\x06\x06", b"PK\x06\x05")
    assert not found(data).zip64


def test_the_end_record():
    sound = archive(Entry(b"a"))
    assert directory(BytesView(b"")) is None
    assert directory(BytesView(sound[:-1])) is None
    assert zip_directory.find_end(BytesView(sound)) == len(sound) - 22
    # A comment that holds the four bytes: the record whose comment ends the file is the one.
    comment = b"PK\x05\x06" + bytes(30)
    assert found(archive(Entry(b"a"), comment=comment)).comment == comment
    # Bytes behind the archive: the last record that fits.
    answer = found(archive(Entry(b"a"), behind=b"signature"))
    assert answer.end == len(sound)
    assert [one.name for one in answer.entries] == ["a"]
    assert zip_directory.find_end(BytesView(b"PK\x05\x06\xff" * 200)) is None


def test_the_archive_as_a_whole():
    assert "one volume" in found(archive(Entry(b"a"), disk=1)).faults[0]
    assert "counts 7 members" in found(archive(Entry(b"a"), total=7)).faults[0]
    empty = found(archive())
    assert (empty.entries, empty.faults) == ((), ())
    data = bytearray(archive(Entry(b"a")))
    data[-10] += 1  # the directory's size
    assert "not where it says" in found(bytes(data)).faults[0]
    data = bytearray(archive(Entry(b"a")))
    data[-6] += 1  # the directory's offset
    assert "not where it says" in found(bytes(data)).faults[0]


def test_archives_behind_other_bytes():
    for adjusted in (True, False):
        data = archive(Entry(b"a", b"body"), before=b"MZ" + bytes(500), adjusted=adjusted)
        answer = found(data)
        assert answer.start == (0 if adjusted else 502)
        assert answer.entries[0].header_offset == 502
        assert answer.entries[0].fault == ""


def test_names_are_lossless():
    every = bytes(range(1, 256))
    assert found(archive(Entry(every))).entries[0].name.encode("cp437") == every
    utf8 = found(archive(Entry(b"\xc3\xa4\xff", flags=0x800))).entries[0].name
    assert utf8 == "ä\udcff"
    assert utf8.encode("utf-8", "surrogateescape") == b"\xc3\xa4\xff"


@pytest.mark.parametrize(
    ("name", "want"),
    [
        ("", "has no name"),
        ("a\0b", "has control characters in its name"),
        ("/etc/x", "has an absolute path"),
        ("\\x", "has an absolute path"),
        ("C:x", "names a drive"),
        ("a/../../b", "climbs out of its folder"),
        ("a\\..\\b", "climbs out of its folder"),
        ("..", "climbs out of its folder"),
        ("a..b/c..", ""),
        ("a/b.rom", ""),
    ],
)
def test_unsafe_names(name: str, want: str):
    assert unsafe_name(name) == want


def test_folders():
    answer = found(archive(Entry(b"a/", b""), Entry(b"b\\", b""), Entry(b"c")))
    assert [one.folder for one in answer.entries] == [True, True, False]


def test_bounds(monkeypatch: pytest.MonkeyPatch):
    data = archive(*(Entry(b"%d" % index) for index in range(20)))
    monkeypatch.setattr(zip_directory, "MAX_MEMBERS", 20)
    assert not found(data).faults
    monkeypatch.setattr(zip_directory, "MAX_MEMBERS", 19)
    assert "19 members are shown" in found(data).faults[0]
    monkeypatch.setattr(zip_directory, "MAX_MEMBERS", 100)
    monkeypatch.setattr(zip_directory, "MAX_DIRECTORY_BYTES", 100)
    assert "more than can be read" in found(data).faults[0]
