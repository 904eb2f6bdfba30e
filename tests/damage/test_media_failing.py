"""Media that fill, vanish, lie or fail: nothing is lost, the message says what to do, nothing half passes as whole."""

from __future__ import annotations

import errno
import os
import shutil
import subprocess
from pathlib import Path

import pytest

from catalogue.errors import NotWorkable
from catalogue.media import disk, laying, medium
from catalogue.media.medium import Space
from catalogue.media.read_back import read_back
from catalogue.media.write_out import write
from catalogue.shapes.finding import Level
from tests.media.making import BYTES, CODE, FAMILY, FIRMWARE, KIT, opener


@pytest.fixture
def mounted(tmp_path):
    """Mounts small volumes below tmp_path, and takes them down again; skips where that is not allowed."""
    taken = []

    def mount(*arguments):
        folder = tmp_path / f"mount{len(taken)}"
        folder.mkdir()
        done = subprocess.run(["mount", *arguments, str(folder)], capture_output=True, text=True, check=False)
        if done.returncode:
            pytest.skip(f"mount is not allowed here: {done.stderr.strip()}")
        taken.append(folder)
        return folder

    if not hasattr(os, "geteuid") or os.geteuid() != 0 or not shutil.which("mount"):
        pytest.skip("mounting a small volume needs root and mount")
    yield mount
    for folder in taken:
        subprocess.run(["umount", str(folder)], check=True)


def half_or_nothing(target):
    """Nothing of ours, or a half kit that is called so."""
    if (target / CODE).exists():
        assert read_back(target).read_back == "differs"
        assert not (target / CODE / "SHA256.SUM").exists()


def test_a_disk_that_fills_at_any_moment(mounted, monkeypatch):
    """On real volumes of every size; the check beforehand is switched off, so that the write itself hits the end."""
    monkeypatch.setattr(medium, "space", lambda target, root: Space(None, 4096))
    full = whole = 0
    for pages in range(1, 60, 3):
        target = mounted("-t", "tmpfs", "-o", f"size={pages * 4096}", "none")
        try:
            done = write(KIT, FAMILY, opener(), target)
        except NotWorkable as error:
            assert "full" in str(error)
            assert str(target) in str(error)
            full += 1
            half_or_nothing(target)
            subprocess.run(["mount", "-o", "remount,size=1m", str(target)], check=True)
            assert write(KIT, FAMILY, opener(), target).read_back == "same"
        else:
            assert done.read_back == "same"
            whole += 1
    assert full > 5
    assert whole > 2


def test_the_check_beforehand_agrees_with_a_real_small_volume(mounted):
    """The volume that is called large enough is; the one that is called too small gets nothing."""
    refused = 0
    for pages in range(30, 56):
        target = mounted("-t", "tmpfs", "-o", f"size={pages * 4096}", "none")
        done = write(KIT, FAMILY, opener(), target)
        stops = [one.code for one in done.findings if one.level is Level.STOP]
        if stops:
            assert stops == ["too-small"]
            assert list(target.iterdir()) == []
            refused += 1
        else:
            assert done.read_back == "same"
    assert 0 < refused < 26


@pytest.mark.parametrize("call", ["write", "fsync", "open", "replace"])
def test_an_error_at_any_call_is_one_sentence_and_leaves_no_whole_half(tmp_path, monkeypatch, call):
    real = getattr(os, call)
    at = 0
    while True:
        at += 1
        target = tmp_path / f"{at}"
        target.mkdir()
        count = 0

        def failing(*arguments, at=at, **more):
            nonlocal count
            count += 1
            if count == at:
                raise OSError(errno.ENOSPC if at % 2 else errno.EIO, "planted")
            return real(*arguments, **more)

        monkeypatch.setattr(os, call, failing)
        try:
            done = write(KIT, FAMILY, opener(), target)
        except NotWorkable as error:
            assert str(target) in str(error)
            monkeypatch.setattr(os, call, real)
            if (target / CODE / "SHA256.SUM").exists():
                assert read_back(target / CODE).read_back == "same"
            else:
                half_or_nothing(target)
        else:
            monkeypatch.setattr(os, call, real)
            if count < at:
                break
            assert done.read_back in ("same", "differs")  # an unreadable file is said by the read-back
        assert write(KIT, FAMILY, opener(), target).read_back == "same"
    assert at > 5


def test_an_earlier_kit_that_was_whole_is_not_lost_to_a_full_disk_without_saying_so(tmp_path, monkeypatch):
    write(KIT, FAMILY, opener(), tmp_path)
    (tmp_path / CODE / "FIRM1204.BIN").write_bytes(b"lost")
    real = os.write

    def full(file, data):
        if len(data) > 50_000:
            raise OSError(errno.ENOSPC, "planted")
        return real(file, data)

    monkeypatch.setattr(os, "write", full)
    with pytest.raises(NotWorkable, match="full"):
        write(KIT, FAMILY, opener(), tmp_path)
    monkeypatch.setattr(os, "write", real)
    assert read_back(tmp_path).read_back == "differs"
    assert write(KIT, FAMILY, opener(), tmp_path).read_back == "same"


class Vanish:
    """Takes the medium away at the n-th report."""

    def __init__(self, target, at):
        self.target, self.at, self.count = target, at, 0

    def report(self, done, total, what):
        self.count += 1
        if self.count == self.at:
            self.target.rename(self.target.with_name("gone"))


@pytest.mark.parametrize("at", range(1, 9))
def test_a_medium_that_vanishes_is_one_sentence(tmp_path, at):
    target = tmp_path / "stick"
    target.mkdir()
    try:
        done = write(KIT, FAMILY, opener(), target, Vanish(target, at))
    except NotWorkable as error:
        assert "plug it in again" in str(error)
    else:
        assert done.read_back == "differs"
    half_or_nothing(tmp_path / "gone")
    (tmp_path / "gone").rename(target)
    assert write(KIT, FAMILY, opener(), target).read_back == "same"


@pytest.mark.parametrize("name", ["FIRM1204.BIN", "KIT.JSN", "RUNSHEET.TXT", "SHA256.SUM", "QHXTEND.BIN"])
def test_a_medium_that_flips_a_bit_after_writing_is_caught_by_the_read_back(tmp_path, monkeypatch, name):
    real = laying.Laying.finish

    def lying(self, *arguments):
        real(self, *arguments)
        path = self.folder / name
        data = bytearray(path.read_bytes())
        data[len(data) // 2] ^= 0x10
        path.write_bytes(data)

    monkeypatch.setattr(laying.Laying, "finish", lying)
    done = write(KIT, FAMILY, opener(), tmp_path)
    assert done.read_back == "differs"
    assert "read-back-differs" in [one.code for one in done.findings]
    assert read_back(tmp_path).read_back == "differs"


def test_a_medium_that_answers_each_read_otherwise_is_caught(tmp_path, monkeypatch):
    real = os.readv
    reads = []

    def lying(file, buffers):
        got = real(file, buffers)
        reads.append(got)
        if got > 100_000:
            buffers[0][got // 2] ^= 1
        return got

    monkeypatch.setattr(os, "readv", lying)
    done = write(KIT, FAMILY, opener(), tmp_path)
    assert done.read_back == "differs"
    assert [one.piece for one in done.findings] == [next(one for one, data in BYTES.items() if data == FIRMWARE)]


def test_the_read_back_looks_at_the_medium_and_not_at_memory(mounted, tmp_path, monkeypatch):
    """A bit flipped on the device below the file system, while the page cache still holds the right bytes."""
    if not shutil.which("mkfs.ext4"):
        pytest.skip("needs mkfs.ext4")
    image = tmp_path / "image"
    with image.open("wb") as file:
        file.truncate(16 << 20)
    subprocess.run(["mkfs.ext4", "-q", str(image)], check=True)
    target = mounted("-o", "loop", str(image))
    real = laying.Laying.finish

    def beneath(self, *arguments):
        real(self, *arguments)
        held = (self.folder / "FIRM1204.BIN").read_bytes()  # into the cache
        at = image.read_bytes().find(FIRMWARE[:4096])
        assert at > 0
        with image.open("r+b") as file:
            file.seek(at + 77)
            file.write(bytes([FIRMWARE[77] ^ 4]))
            file.flush()
            os.fsync(file.fileno())
        assert (self.folder / "FIRM1204.BIN").read_bytes() == held == FIRMWARE, "the cache was not used at all"

    monkeypatch.setattr(laying.Laying, "finish", beneath)
    monkeypatch.setattr(disk, "forget", lambda file: None)  # reading past the cache alone must do
    done = write(KIT, FAMILY, opener(), target)
    assert done.read_back == "differs"
    assert [one.state for one in read_back(target).files if one.name == f"{CODE}/FIRM1204.BIN"] == ["differs"]


def test_nothing_counts_before_it_is_synced(tmp_path, monkeypatch):
    """The order that makes a power cut harmless, as the calls show it."""
    calls = []

    def watch(name, say):
        real = getattr(os, name)

        def call(*arguments, **more):
            calls.append(say(*arguments))
            return real(*arguments, **more)

        monkeypatch.setattr(os, name, call)

    def of(file):
        return Path(os.readlink(f"/proc/self/fd/{file}")).name

    watch("fsync", lambda file: f"sync {of(file)}")
    watch("replace", lambda old, new, **_: f"{Path(old).name} becomes {Path(new).name}")
    watch("rename", lambda old, new, **_: f"{Path(old).name} becomes {Path(new).name}")
    watch("unlink", lambda path, **_: f"remove {Path(path).name}")
    if not Path("/proc/self/fd").exists():
        pytest.skip("needs /proc")
    write(KIT, FAMILY, opener(), tmp_path)
    becomes = {call.partition(" becomes ")[2]: call.partition(" becomes ")[0] for call in calls if " becomes " in call}
    listed = calls.index(f"{becomes['SHA256.SUM']} becomes SHA256.SUM")
    assert calls[:3] == ["sync HALFWAY.KIT", f"sync {CODE}", f"sync {tmp_path.name}"]
    for name, temporary in becomes.items():
        synced, named = calls.index(f"sync {temporary}"), calls.index(f"{temporary} becomes {name}")
        assert synced < named
        if name not in ("SHA256.SUM", "KITS.TXT"):
            assert named < listed
            assert f"sync {CODE}" in calls[named:listed]
    assert f"sync {CODE}" in calls[listed : calls.index("remove HALFWAY.KIT")]
    assert calls[-2:] == ["remove HALFWAY.KIT", f"sync {CODE}"]
    calls.clear()
    (tmp_path / CODE / "FIRM1204.BIN").write_bytes(b"lost")
    write(KIT, FAMILY, opener(), tmp_path)
    assert calls.index("sync HALFWAY.KIT") < calls.index("remove SHA256.SUM")
    removed = calls.index("remove SHA256.SUM")
    first = next(at for at, call in enumerate(calls) if " becomes " in call)
    assert f"sync {CODE}" in calls[removed:first]
