"""Reading from a medium: plain files only, past the cache where that works, bounded."""

from __future__ import annotations

import errno
import hashlib
import os
import socket
import sys

import pytest

from catalogue.errors import NotWorkable
from catalogue.media import disk
from catalogue.media.disk import CHUNK, THREADED, NotPlain


@pytest.mark.parametrize(
    "size", [0, 1, 511, 4096, CHUNK - 1, CHUNK, CHUNK + 1, THREADED - 1, THREADED, THREADED + 777, 3 * THREADED]
)
def test_the_digest_is_that_of_all_bytes_and_every_byte_is_counted(tmp_path, size):
    data = os.urandom(size)
    path = tmp_path / "a"
    path.write_bytes(data)
    counted = []
    assert disk.digest(path, size, counted.append) == hashlib.sha256(data).hexdigest()
    assert sum(counted) == size
    assert disk.digest(path, size + 1) is None
    assert disk.small(path, size) == data
    if size:
        assert disk.small(path, size - 1) is None


def test_a_file_system_that_refuses_to_read_past_the_cache_is_read_through_it(tmp_path, monkeypatch):
    path = tmp_path / "a"
    path.write_bytes(b"x" * 100_000)
    real = os.readv
    refused = []

    def readv(file, buffers):
        import fcntl

        if fcntl.fcntl(file, fcntl.F_GETFL) & os.O_DIRECT:
            refused.append(file)
            raise OSError(errno.EINVAL, "no")
        return real(file, buffers)

    monkeypatch.setattr(os, "readv", readv)
    assert disk.digest(path) == hashlib.sha256(b"x" * 100_000).hexdigest()
    assert refused or sys.platform != "linux"


def test_a_read_error_in_the_reading_thread_is_not_lost(tmp_path, monkeypatch):
    path = tmp_path / "a"
    path.write_bytes(bytes(THREADED))
    calls = []

    def readv(file, buffers):
        calls.append(file)
        if len(calls) == 3:
            raise OSError(errno.EIO, "bad sector")
        return len(buffers[0])

    monkeypatch.setattr(os, "readv", readv)
    with pytest.raises(OSError, match="bad sector"):
        disk.digest(path)


def test_stopping_in_the_middle_leaves_no_thread(tmp_path):
    import threading

    path = tmp_path / "a"
    path.write_bytes(bytes(3 * THREADED))

    def stop(count):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        disk.digest(path, None, stop)
    assert [one.name for one in threading.enumerate() if one.name.startswith("read past")] == []


def test_links_folders_fifos_and_sockets_are_not_read(tmp_path):
    (tmp_path / "real").write_bytes(b"x")
    (tmp_path / "link").symlink_to("real")
    os.mkfifo(tmp_path / "fifo")
    (tmp_path / "folder").mkdir()
    with socket.socket(socket.AF_UNIX) as one:
        here = os.open(tmp_path, os.O_RDONLY)
        try:
            one.bind(f"/proc/self/fd/{here}/socket")
        finally:
            os.close(here)
        for name in ("link", "fifo", "folder", "socket"):
            with pytest.raises(NotPlain):
                disk.digest(tmp_path / name)
            with pytest.raises(NotPlain):
                disk.small(tmp_path / name, 10)
        kinds = {one.name: one.kind for one in disk.listing(tmp_path)[0]}
    assert kinds == {"real": "file", "link": "link", "fifo": "other", "folder": "folder", "socket": "other"}


def test_a_fifo_put_in_a_files_place_at_the_last_moment_is_not_read(tmp_path, monkeypatch):
    path = tmp_path / "a"
    path.write_bytes(b"x")
    before = path.lstat()
    path.unlink()
    os.mkfifo(path)
    monkeypatch.setattr(type(path), "lstat", lambda self: before)
    with pytest.raises(NotPlain):
        disk.digest(path)


def test_a_listing_is_sorted_and_bounded(tmp_path):
    for number in range(12):
        (tmp_path / f"{number:02}").touch()
    entries, more = disk.listing(tmp_path)
    assert [one.name for one in entries] == [f"{number:02}" for number in range(12)]
    assert not more
    entries, more = disk.listing(tmp_path, 5)
    assert (len(entries), more) == (5, True)


@pytest.mark.parametrize(
    ("number", "says"),
    [
        (errno.ENOSPC, "is full"),
        (errno.EROFS, "write-protected"),
        (errno.EIO, "gone or failing"),
        (errno.ENODEV, "gone or failing"),
        (errno.EACCES, "may not be used"),
        (errno.EXDEV, "failed"),
    ],
)
def test_every_error_of_the_world_is_one_sentence_that_says_what_to_do(tmp_path, number, says):
    with pytest.raises(NotWorkable, match=says) as caught, disk.world(tmp_path, "writing"):
        raise OSError(number, os.strerror(number))
    assert str(tmp_path) in str(caught.value)
    assert "\n" not in str(caught.value)
