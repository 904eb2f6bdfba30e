"""The demo's folder: the same bytes each time and everywhere, and never a file overwritten."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from hashlib import sha256
from pathlib import Path

import pytest

import sample_bundles
from sample_bundles.make import make
from sample_bundles.scene import manifest, scene

MANIFEST = Path(sample_bundles.__file__).parent / "SHA256.SUM"
ROOT = MANIFEST.parent.parent


def contents(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_two_runs_in_differing_surroundings_are_byte_identical(tmp_path):
    """Another process, hash seed, time zone, locale and day-to-day clock: the same bytes."""
    first = make(tmp_path / "first")
    environment = {**os.environ, "PYTHONHASHSEED": "4711", "TZ": "Pacific/Kiritimati", "LC_ALL": "C", "PYTHONUTF8": "1"}
    subprocess.run([sys.executable, "-m", "sample_bundles", str(tmp_path / "second")], cwd=ROOT, env=environment,
                   check=True, stdout=subprocess.DEVNULL)
    assert first.written == len(scene())
    assert contents(tmp_path / "first") == contents(tmp_path / "second")


def test_the_committed_manifest_is_true():
    """A change of any byte shows here; the families' digests must then be renewed too."""
    assert MANIFEST.read_bytes() == manifest(scene())


@pytest.mark.outside
@pytest.mark.skipif(not shutil.which("sha256sum"), reason="needs sha256sum")
def test_sha256sum_agrees_with_the_manifest(tmp_path):
    make(tmp_path)
    subprocess.run(["sha256sum", "--quiet", "--strict", "-c", str(MANIFEST)], cwd=tmp_path, check=True)


def test_what_is_said_of_each_piece_is_true(tmp_path):
    made = make(tmp_path)
    for one in made.pieces:
        if not one.inside:
            data = one.path.read_bytes()
            assert (sha256(data).hexdigest(), len(data)) == (one.sha256, one.size)
    assert {one.family for one in made.pieces} == {"", "corvane-bittern", "corvane-heron", "brinewell-plover"}
    assert all(one.what for one in made.pieces)
    assert not any(one.good and one.tempts for one in made.pieces)


def test_a_second_run_keeps_everything_as_it_is(tmp_path):
    make(tmp_path)
    before = {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*")}
    again = make(tmp_path)
    assert (again.written, again.kept) == (0, len(scene()))
    assert {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*")} == before


def test_it_overwrites_nothing_and_then_writes_nothing(tmp_path):
    mine = tmp_path / "saltmarsh-stock.csv"
    mine.write_bytes(b"my own table\n")
    with pytest.raises(FileExistsError, match=r"saltmarsh-stock\.csv"):
        make(tmp_path)
    assert contents(tmp_path) == {"saltmarsh-stock.csv": b"my own table\n"}


def test_it_follows_no_link_out_of_the_folder(tmp_path):
    outside = tmp_path / "outside"
    outside.mkdir()
    folder = tmp_path / "folder"
    folder.mkdir()
    (folder / "heron").symlink_to(outside, target_is_directory=True)
    with pytest.raises(FileExistsError, match="heron"):
        make(folder)
    assert list(outside.iterdir()) == []


def test_a_file_where_a_folder_should_be_is_refused(tmp_path):
    (tmp_path / "old").write_bytes(b"")
    with pytest.raises(FileExistsError, match="old"):
        make(tmp_path)


def test_a_missing_file_is_made_again(tmp_path):
    make(tmp_path)
    (tmp_path / "mirror" / "SHA256SUMS").unlink()
    assert make(tmp_path).written == 1


def test_the_command_answers_with_its_exit_code(tmp_path):
    blocked = tmp_path / "blocked"
    blocked.write_bytes(b"")
    call = [sys.executable, "-m", "sample_bundles", str(blocked)]
    done = subprocess.run(call, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert done.stderr.strip()


def test_the_scene_has_what_a_real_folder_has():
    """The list of the demo's ingredients: each is there at least once."""
    names = [item.name for item in scene()]
    tempts = {code for item in scene() for _, one in item.walk() for code in one.tempts}
    assert {"other-mode", "other-bench", "wrong-size", "wrong-kind", "blank", "bytes-swapped", "eeprom-sum",
            "withdrawn", "contradicted", "rom-damaged", "tool-too-old", "companion-missing", "foreign-identity",
            "below-lowest", "unvouched"} <= tempts
    assert any(not name.isascii() for name in names)
    assert any(item.cut is not None for item in scene())
    digests = [sha256(item.data).hexdigest() for item in scene()]
    assert len(digests) > len(set(digests))
    assert any(len(place) > 2 for item in scene() for place, _ in item.walk())


def test_no_piece_of_one_family_speaks_of_another():
    """The good pieces of one family hold no text by which another family knows its own."""
    marks = {"corvane-bittern": (b"BITTERN RD", b"BITTERN PT", b"QUAYHAND"),
             "corvane-heron": (b"HERON RD", b"HERON PT", b"WEIRHAND", b"HERON NOTES"),
             "brinewell-plover": (b"PLOVER QUIET", b"PLOVER NETSTART", b"SHINGLE")}
    for item in scene():
        for _, one in item.walk():
            for family, texts in marks.items():
                wide = tuple(text.decode().encode("utf-16-le") for text in texts)
                if one.members is None and one.family != family:
                    assert not any(text in one.data for text in (*texts, *wide)), one.name
