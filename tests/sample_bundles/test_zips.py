"""The demo's archives, as Python's zipfile, Info-ZIP's unzip and zlib take them."""

from __future__ import annotations

import io
import shutil
import subprocess
import zipfile
import zlib

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sample_bundles.deflate import deflate
from sample_bundles.scene import scene
from sample_bundles.zips import Entry, zip_bytes

WHOLE = {item.name: item for item in scene() if item.members is not None and item.cut is None}


@pytest.mark.outside
@given(st.one_of(st.binary(max_size=3000), st.lists(st.binary(min_size=1, max_size=9), max_size=200).map(b"".join)))
@example(b"")
@example(b"\xff" * 100_000)
@example(b"abcdefgh" * 9000)
@example(bytes(range(256)) * 300)
@example(b"start" + bytes(32_768 - 5) + b"start" + bytes(40_000) + b"start")
def test_zlib_unpacks_what_was_packed(data):
    """RFC 1951, by zlib."""
    unpacker = zlib.decompressobj(-15)
    assert unpacker.decompress(deflate(data)) + unpacker.flush() == data
    assert unpacker.eof
    assert unpacker.unused_data == b""


@pytest.mark.outside
@pytest.mark.parametrize("name", WHOLE)
def test_zipfile_reads_every_member(name):
    item = WHOLE[name]
    with zipfile.ZipFile(io.BytesIO(item.data)) as archive:
        assert archive.testzip() is None
        assert archive.namelist() == [one.name for one in item.members]
        assert [archive.read(one.name) for one in item.members] == [one.data for one in item.members]
        assert all(one.date_time == (*item.day, 9, 0, 0) for one in archive.infolist())


@pytest.mark.outside
@pytest.mark.skipif(not shutil.which("unzip"), reason="needs unzip")
@pytest.mark.parametrize("name", WHOLE)
def test_unzip_tests_them_sound(tmp_path, name):
    path = tmp_path / "x.zip"
    path.write_bytes(WHOLE[name].data)
    subprocess.run(["unzip", "-tqq", str(path)], check=True, capture_output=True)


@pytest.mark.outside
def test_the_broken_download_has_no_directory():
    cut = next(item for item in scene() if item.cut is not None)
    with pytest.raises(zipfile.BadZipFile):
        zipfile.ZipFile(io.BytesIO(cut.data))
    assert WHOLE["bittern-12.04.0.zip"].data.startswith(cut.data)


def test_some_members_are_packed_and_some_stored():
    methods = set()
    for item in WHOLE.values():
        with zipfile.ZipFile(io.BytesIO(item.data)) as archive:
            methods |= {one.compress_type for one in archive.infolist()}
    assert methods == {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}


@pytest.mark.outside
@given(st.lists(st.tuples(st.text(alphabet="abcü札", min_size=1, max_size=9), st.binary(max_size=99)),
                unique_by=lambda entry: entry[0]),
       st.binary(max_size=30).filter(lambda comment: b"PK" not in comment))
def test_any_entries_come_back(entries, comment):
    data = zip_bytes((Entry(name, body) for name, body in entries), comment=comment)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert [(name, archive.read(name)) for name in archive.namelist()] == entries
        assert archive.comment == comment
