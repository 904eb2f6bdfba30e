"""Folders in, pieces out: what is new, changed, moved, gone; what cannot be read; what is never followed."""

from __future__ import annotations

import hashlib
import io
import os
import random
import socket
import subprocess
import threading
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.errors import BadCall, Stopped
from catalogue.intake import files, indexing, reading
from catalogue.intake.pool import Pool
from catalogue.shapes.piece import PieceInfo
from catalogue.shapes.results import IndexSummary
from catalogue.store import Store
from catalogue.tasks import index, pieces
from catalogue.tasks.context import Context
from tests.fuzz import traps


class Bench:
    """A catalogue and a folder to index."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder / "in"
        self.folder.mkdir(parents=True)
        self.context = Context(str(folder / "catalogue.sqlite"))

    def put(self, name: str | bytes, data: bytes) -> bytes:
        path = os.path.join(os.fsencode(self.folder), os.fsencode(name))
        os.makedirs(os.path.dirname(path), exist_ok=True)
        with open(path, "wb") as file:
            file.write(data)
        return path

    def index(self, *paths: str | bytes | Path) -> IndexSummary:
        return index.run(self.context, paths or [self.folder])

    def pieces(self) -> dict[str, PieceInfo]:
        return {one.sha256: one for one in pieces.run(self.context)}

    def places(self) -> dict[str, list[str]]:
        """SHA-256 and places below the folder."""
        stem = f"{self.folder}{os.sep}"
        return {sha: [str(place).removeprefix(stem) for place in one.places] for sha, one in self.pieces().items()}


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def counts(done: IndexSummary) -> tuple[int, int, int, int]:
    return done.new, done.changed, done.unchanged, done.gone


def test_every_file_is_a_piece(bench: Bench) -> None:
    bench.put("a.bin", b"one \0")
    bench.put("deep/er/b.bin", b"two \0")
    bench.put("deep/er/again.bin", b"one \0")
    bench.put("empty", b"")
    done = bench.index()
    assert (done.files, done.pieces, done.archives) == (4, 3, 0)
    assert counts(done) == (4, 0, 0, 0)
    assert bench.places() == {
        sha(b"one \0"): ["a.bin", "deep/er/again.bin"],
        sha(b"two \0"): ["deep/er/b.bin"],
        sha(b""): ["empty"],
    }


@pytest.mark.outside
def test_digests_against_sha256sum(bench: Bench) -> None:
    """GNU coreutils' sha256sum, over sizes around every buffer and block of ours."""
    chance = random.Random(7)
    edges = (0, 1, 55, 56, 63, 64, 65, 4096, 131_071, 131_072, 131_073, 1 << 20, (1 << 20) + 1, 5_000_000)
    for size in edges:
        bench.put(f"{size}.bin", chance.randbytes(size))
    bench.index()
    told = subprocess.run(
        ["sha256sum", *[f"{size}.bin" for size in edges]], cwd=bench.folder, capture_output=True, text=True, check=True
    )
    wanted = {line.split()[0]: [line.split()[1]] for line in told.stdout.splitlines()}
    assert bench.places() == wanted


def test_again_and_nothing_is_read(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(50):
        bench.put(f"{number % 7}/{number}.bin", os.urandom(number))
    settle(bench)
    first = bench.index()
    monkeypatch.setattr(files, "_once", lambda *_: pytest.fail("an unchanged file was opened"))
    again = bench.index()
    assert counts(again) == (0, 0, 50, 0)
    assert (again.pieces, again.files) == (first.pieces, first.files)
    assert not again.changes.pieces


def settle(bench: Bench) -> None:
    """Give every file a time long past, so that it does not count as fresh."""
    past = time.time() - 1000
    for path in bench.folder.rglob("*"):
        if path.is_file():
            os.utime(path, (past + 0.25, past + 0.25))
    time.sleep(files.FRESH_NS / 1e9 * 1.5)


def test_changed_and_gone(bench: Bench) -> None:
    for name in ("same", "other", "gone"):
        bench.put(name, name.encode() + b"\0")
    settle(bench)
    bench.index()
    bench.put("other", b"quite other \0")
    (bench.folder / "gone").unlink()
    done = bench.index()
    assert counts(done) == (0, 1, 1, 1)
    assert bench.places() == {sha(b"same\0"): ["same"], sha(b"quite other \0"): ["other"]}


def test_changed_with_size_and_time_kept(bench: Bench) -> None:
    """The time of the inode's last change cannot be set back."""
    path = bench.put("a", b"old \0")
    settle(bench)
    looked = os.stat(path)
    bench.index()
    time.sleep(0.02)
    with open(path, "r+b") as file:
        file.write(b"new \0")
    os.utime(path, ns=(looked.st_atime_ns, looked.st_mtime_ns))
    assert bench.index().changed == 1
    assert list(bench.places()) == [sha(b"new \0")]


def test_changed_right_after_indexing(bench: Bench) -> None:
    """A file as fresh as the clock behind file times is coarse is not trusted the next time."""
    for round_ in range(20):
        bench.put("a", b"%5d\0" % round_)
        bench.index()
        assert list(bench.places()) == [sha(b"%5d\0" % round_)]


def test_touched_is_unchanged(bench: Bench) -> None:
    path = bench.put("a", b"a \0")
    settle(bench)
    bench.index()
    os.utime(path)
    assert counts(bench.index()) == (0, 0, 1, 0)


def test_moved(bench: Bench) -> None:
    bench.put("one/a.bin", b"a \0")
    bench.put("one/b.bin", b"b \0")
    settle(bench)
    bench.index()
    (bench.folder / "one").rename(bench.folder / "two")
    done = bench.index()
    assert counts(done) == (2, 0, 0, 2)
    assert done.moved == 2
    assert bench.places() == {sha(b"a \0"): ["two/a.bin"], sha(b"b \0"): ["two/b.bin"]}


def test_a_file_becomes_a_folder_and_back(bench: Bench) -> None:
    bench.put("x", b"file \0")
    bench.index()
    (bench.folder / "x").unlink()
    bench.put("x/y", b"in a folder \0")
    bench.index()
    assert bench.places() == {sha(b"in a folder \0"): ["x/y"]}
    (bench.folder / "x" / "y").unlink()
    (bench.folder / "x").rmdir()
    bench.put("x", b"file \0")
    bench.index()
    assert bench.places() == {sha(b"file \0"): ["x"]}


def test_vanished_folder_with_folders(bench: Bench) -> None:
    bench.put("a/b/c/d.bin", b"d \0")
    bench.put("a-b.bin", b"beside \0")
    bench.index()
    subprocess.run(["rm", "-r", str(bench.folder / "a")], check=True)
    assert counts(bench.index())[3] == 1
    assert bench.places() == {sha(b"beside \0"): ["a-b.bin"]}


def test_one_file_alone(bench: Bench) -> None:
    path = bench.put("a.bin", b"a \0")
    bench.put("b.bin", b"b \0")
    assert counts(bench.index(path)) == (1, 0, 0, 0)
    assert bench.places() == {sha(b"a \0"): ["a.bin"]}
    assert counts(bench.index())[0] == 1
    assert counts(bench.index(path))[3] == 0, "the other file of the folder was not asked about"


def test_paths_inside_one_another_count_once(bench: Bench) -> None:
    path = bench.put("sub/a.bin", b"a \0")
    done = bench.index(bench.folder, bench.folder / "sub", path, bench.folder)
    assert (done.files, done.new) == (1, 1)


def test_intake_folders_are_remembered(bench: Bench) -> None:
    path = bench.put("a.bin", b"a \0")
    bench.index()
    bench.index(path)
    with Store.open(bench.context.catalogue) as store:
        assert store.intake_folders() == (os.fsencode(bench.folder), path)


ODD_NAMES = [b"na\xffme.bin", b"\xc3\x28", b"new\nline", b" ", b"\x01\x1b[31m", "ü–漢".encode(), b"-rf", b"*"]


@pytest.mark.parametrize("name", ODD_NAMES)
def test_names_of_any_bytes(bench: Bench, name: bytes) -> None:
    path = bench.put(name, b"x \0")
    bench.put(name + b"d/" + name, b"y \0")
    bench.index()
    found = bench.pieces()[sha(b"x \0")]
    assert os.fsencode(found.places[0].path) == path
    assert bench.index().unchanged == 2
    (Path(os.fsdecode(path))).unlink()
    assert bench.index().gone == 1


def test_links_are_not_followed(bench: Bench, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "secret.bin").write_bytes(b"secret \0")
    bench.put("inside.bin", b"inside \0")
    (bench.folder / "to-file").symlink_to(outside / "secret.bin")
    (bench.folder / "to-folder").symlink_to(outside)
    (bench.folder / "to-inside").symlink_to(bench.folder / "inside.bin")
    (bench.folder / "loop").symlink_to(bench.folder)
    (bench.folder / "dangling").symlink_to(tmp_path / "nowhere")
    done = bench.index()
    assert (done.files, done.skipped, done.unreadable) == (1, 5, ())
    assert bench.places() == {sha(b"inside \0"): ["inside.bin"]}


def test_a_named_link_is_followed(bench: Bench, tmp_path: Path) -> None:
    bench.put("a.bin", b"a \0")
    link = tmp_path / "link"
    link.symlink_to(bench.folder)
    assert bench.index(link).files == 1
    single = tmp_path / "single"
    single.symlink_to(bench.folder / "a.bin")
    done = bench.index(single)
    assert (done.files, done.new, done.unreadable) == (1, 1, ())
    assert bench.index(single).unchanged == 1


def test_a_file_replaced_by_a_link_between_look_and_opening(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "secret.bin").write_bytes(b"secret \0")
    path = bench.put("a.bin", b"a \0")
    real = files.read_file

    def swapped(*how: object) -> object:
        os.unlink(path)
        os.symlink(tmp_path / "secret.bin", path)
        return real(*how)  # type: ignore[arg-type]

    monkeypatch.setattr(indexing, "Pool", lambda: Pool(swapped))  # type: ignore[arg-type]
    done = bench.index()
    assert len(done.unreadable) == 1
    assert bench.pieces() == {}


def test_special_files_are_skipped(bench: Bench) -> None:
    bench.put("a.bin", b"a \0")
    os.mkfifo(bench.folder / "pipe")
    with socket.socket(socket.AF_UNIX) as made:
        here = os.open(bench.folder, os.O_RDONLY)
        try:
            made.bind(f"/proc/self/fd/{here}/sock")
        finally:
            os.close(here)
        done = bench.index()
    assert (done.files, done.skipped, done.unreadable) == (1, 2, ())


def test_named_special_file_is_a_bad_call(bench: Bench) -> None:
    os.mkfifo(bench.folder / "pipe")
    with pytest.raises(BadCall, match="neither a folder nor a file"):
        bench.index(bench.folder / "pipe")


def test_no_such_path(bench: Bench) -> None:
    bench.put("a.bin", b"a \0")
    with pytest.raises(BadCall, match="nowhere"):
        bench.index(bench.folder, bench.folder / "nowhere")
    assert bench.pieces() == {}


def refusing(monkeypatch: pytest.MonkeyPatch, name: str, path: bytes) -> None:
    """Make a call of the os module fail for one path, as for a folder that may not be read (root may read all)."""
    real = getattr(os, name)

    def refuse(given: bytes, *more: object, **how: object) -> object:
        if given == path:
            raise PermissionError(13, "Permission denied")
        return real(given, *more, **how)

    monkeypatch.setattr(os, name, refuse)


def test_unreadable_file(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    path = bench.put("closed.bin", b"closed \0")
    bench.put("open.bin", b"open \0")
    refusing(monkeypatch, "open", path)
    done = bench.index()
    assert [(one.place, one.why) for one in done.unreadable] == [(os.fsdecode(path), "Permission denied.")]
    assert not done.named_unreadable
    assert list(bench.places()) == [sha(b"open \0")]
    monkeypatch.undo()
    assert bench.index().new == 1


def test_unreadable_folder_keeps_what_is_known_of_it(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.put("closed/deep/a.bin", b"a \0")
    bench.put("closed/b.bin", b"b \0")
    bench.index()
    refusing(monkeypatch, "scandir", os.fsencode(bench.folder / "closed"))
    done = bench.index()
    assert [one.place for one in done.unreadable] == [str(bench.folder / "closed")]
    assert (done.gone, done.named_unreadable) == (0, False)
    assert len(bench.pieces()) == 2


def test_named_folder_unreadable(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.put("a.bin", b"a \0")
    refusing(monkeypatch, "scandir", os.fsencode(bench.folder))
    done = bench.index()
    assert done.named_unreadable
    assert len(done.unreadable) == 1


def test_vanishes_while_it_is_indexed(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    path = bench.put("a.bin", b"a \0")
    bench.put("b.bin", b"b \0")
    real = os.open

    def first_removed(given: bytes, *more: int, **how: int) -> int:
        if given == path:
            os.unlink(path)
        return real(given, *more, **how)

    monkeypatch.setattr(os, "open", first_removed)
    done = bench.index()
    assert "vanished" in done.unreadable[0].why
    assert list(bench.places()) == [sha(b"b \0")]


@pytest.mark.parametrize("size", [100, 200_000, 3_000_000])
def test_changed_underfoot_is_read_again(bench: Bench, monkeypatch: pytest.MonkeyPatch, size: int) -> None:
    path = bench.put("a.bin", bytes(size))
    real, left = os.fstat, [2]

    def changing(fd: int) -> os.stat_result:
        """Write to the file after the first look."""
        looked = real(fd)
        if left[0] and looked.st_size >= size:
            left[0] -= 1
            with open(path, "r+b") as file:
                file.write(b"changed")
                file.truncate(size + 3 - left[0])
        return looked

    monkeypatch.setattr(os, "fstat", changing)
    bench.index()
    with open(path, "rb") as file:
        assert list(bench.places()) == [sha(file.read())]
    assert left == [0]


@pytest.mark.parametrize("size", [100, 200_000, 3_000_000])
def test_changed_behind_the_reading(bench: Bench, monkeypatch: pytest.MonkeyPatch, size: int) -> None:
    """The size stays, and the bytes that were read are the old ones: only the second look can tell."""
    path = bench.put("a.bin", bytes(size))
    settle(bench)
    real, looks = os.fstat, [0]

    def changing(fd: int) -> os.stat_result:
        if real(fd).st_size == size:
            looks[0] += 1
            if looks[0] == 2:
                with open(path, "r+b") as file:
                    file.write(b"changed")
        return real(fd)

    monkeypatch.setattr(os, "fstat", changing)
    bench.index()
    assert looks == [4]
    with open(path, "rb") as file:
        assert list(bench.places()) == [sha(file.read())]


def test_fresh_files_are_marked(bench: Bench) -> None:
    path = bench.put("a.bin", b"a \0")
    os.utime(path, ns=(1, 1_000_000_001))
    assert read(path)[1] == -1, "its inode changed a moment ago"
    time.sleep(files.FRESH_NS / 1e9 * 1.2)
    assert read(path)[1] == 1_000_000_001
    os.utime(path, ns=(1, 1_000_000_000))
    time.sleep(files.FRESH_NS / 1e9 * 1.2)
    assert read(path)[1] == -1, "times in whole seconds tell less"


def read(path: bytes) -> tuple[int, int, int, int]:
    return files.read_file(path, bytearray(1 << 20), lambda: False)[0]


def test_always_changing_is_reported(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    path = bench.put("log.bin", b"log \0")
    real = os.fstat

    def growing(fd: int) -> os.stat_result:
        looked = real(fd)
        with open(path, "ab") as file:
            file.write(b"more")
        return looked

    monkeypatch.setattr(os, "fstat", growing)
    done = bench.index()
    assert "changes while it is being read" in done.unreadable[0].why
    assert bench.pieces() == {}


def test_a_failing_reader_is_a_fault(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    bench.put("a.bin", b"\x7fELF" + bytes(100))

    def failing(*_: object) -> None:
        raise RuntimeError("planted")

    monkeypatch.setattr(reading, "known", failing)
    done = bench.index()
    (piece,) = bench.pieces().values()
    assert [fault.code for fault in piece.faults] == ["reader-failed"]
    assert (piece.kind, done.new) == ("opaque", 1)
    assert "planted" in caplog.text


def test_better_readers_read_again(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.put("a.bin", b"a \0")
    with zipfile.ZipFile(bench.folder / "z.zip", "w") as made:
        made.writestr("m.txt", "text\n")
    settle(bench)
    bench.index()
    monkeypatch.setattr(indexing, "READ_BY", "newer")
    done = bench.index()
    assert counts(done) == (0, 0, 2, 0)
    assert (done.pieces, done.archives) == (3, 1)
    monkeypatch.setattr(files, "_once", lambda *_: pytest.fail("read a third time"))
    bench.index()


class StopAt:
    """A person who stops after so many reports."""

    def __init__(self, reports: int) -> None:
        self.left = reports

    def report(self, done: int, total: int | None, what: str) -> None:
        self.left -= 1
        if self.left < 0:
            raise Stopped("Stopped.")


def test_stop_and_go_on(bench: Bench) -> None:
    for number in range(300):
        bench.put(f"{number // 20:02}/{number}.bin", b"%d \0" % number)
    whole = bench.index
    stopped = 0
    for reports in (0, 1, 3, 6, 9, 12):
        try:
            index.run(bench.context, [bench.folder], StopAt(reports))
        except Stopped:
            stopped += 1
    assert stopped == 6
    done = whole()
    assert done.files == 300
    assert len(bench.pieces()) == 300
    assert not [thread for thread in threading.enumerate() if thread.name == "kitproof-read"]


def test_stop_in_the_middle_of_a_long_file(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.put("long.bin", bytes(8 << 20))
    with (bench.folder / "sparse.bin").open("wb") as file:
        file.truncate(8 << 30)
    bench.put("z/short.bin", b"short \0")

    class Soon:
        def __init__(self) -> None:
            self.begun = time.monotonic()

        def report(self, done: int, total: int | None, what: str) -> None:
            if done and time.monotonic() - self.begun > 0.2:
                raise Stopped("Stopped.")

    begun = time.monotonic()
    with pytest.raises(Stopped):
        index.run(bench.context, [bench.folder], Soon())
    assert time.monotonic() - begun < 5
    assert sha(b"short \0") in bench.pieces()


def test_interrupted_by_a_signal(bench: Bench) -> None:
    for number in range(50):
        bench.put(f"{number}.bin", b"%d \0" % number)

    class Interrupted:
        def report(self, done: int, total: int | None, what: str) -> None:
            if done:
                raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        index.run(bench.context, [bench.folder], Interrupted())
    assert bench.index().files == 50
    assert len(bench.pieces()) == 50


def test_progress_says_where_it_is(bench: Bench) -> None:
    for number in range(30):
        bench.put(f"{number % 3}/{number}.bin", b"%d \0" % number)
    said: list[tuple[int, int | None, str]] = []

    class Listening:
        def report(self, done: int, total: int | None, what: str) -> None:
            said.append((done, total, what))

    index.run(bench.context, [bench.folder], Listening())
    assert [done for done, _total, _what in said] == sorted(done for done, _total, _what in said)
    assert said[-1][:2] == (30, 30)
    assert any(what == str(bench.folder / "1") for _done, _total, what in said)


def test_nothing_at_all(bench: Bench) -> None:
    done = bench.index()
    assert (done.files, done.pieces, done.unreadable) == (0, 0, ())


def test_com_programs_by_name(bench: Bench) -> None:
    code = b"\xb4\x4c\xcd\x21\0" * 9
    bench.put("FLASH.COM", code)
    bench.put("large.com", bytes(range(256)) * 256)
    bench.put("notes.com", b"This is a text that is called so.\n")
    bench.index()
    kinds = {one.places[0].path.rsplit("/", 1)[-1]: one.kind for one in bench.pieces().values()}
    assert kinds == {"FLASH.COM": "dos-program", "large.com": "opaque", "notes.com": "text"}
    assert [one.sha256 for one in pieces.run(bench.context, kind="dos-program")] == [sha(code)]
    (bench.folder / "FLASH.COM").rename(bench.folder / "flash.bin")
    bench.index()
    assert bench.pieces()[sha(code)].kind == "opaque"
    with zipfile.ZipFile(bench.folder / "z.zip", "w") as made:
        made.writestr("DOS\\Flash.Com", code)
    bench.index()
    assert bench.pieces()[sha(code)].kind == "dos-program"
    (bench.folder / "z.zip").unlink()
    bench.index()
    assert bench.pieces()[sha(code)].kind == "opaque"


# Properties


def zipped(**members: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        for name, data in members.items():
            made.writestr(zipfile.ZipInfo(name), data)
    return out.getvalue()


inner = zipped(a=b"a \0", c=b"c" * 300)
contents = st.sampled_from(
    [b"", b"a \0", b"b \0", b"c" * 300, bytes(200_000), b"MZ", b"text\n", inner, zipped(b=b"b \0", i=inner)]
)
trees = st.dictionaries(
    st.lists(st.sampled_from(["a", "b", "c.com", "d d"]), min_size=1, max_size=3).map("/".join), contents, max_size=8
)


def lay(folder: Path, tree: dict[str, bytes]) -> dict[str, bytes]:
    """Write a tree; a name that is a folder already is left out."""
    laid: dict[str, bytes] = {}
    for name, data in tree.items():
        path = folder / name
        if any(parent.is_file() for parent in path.parents) or path.is_dir():
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        laid[name] = data
    return laid


def seen(bench: Bench) -> dict[str, tuple[str, int, str, tuple[str, ...]]]:
    """All that is known of pieces but their order; the text that words are sought in, too."""
    stem = str(bench.folder)
    with Store.open(bench.context.catalogue) as store, store.reading() as connection:
        rows = connection.exec_driver_sql("SELECT sha256, text FROM search JOIN piece ON id = piece_id").fetchall()
    texts = {key.hex(): text for key, text in rows}
    return {
        key: (one.kind, one.size, texts[key], tuple(str(place).removeprefix(stem) for place in one.places))
        for key, one in bench.pieces().items()
    }


@settings(max_examples=15)
@given(tree=trees, split=st.integers(0, 8), shuffle=st.randoms(use_true_random=False))
def test_order_and_split_runs_change_nothing(
    tmp_path_factory: pytest.TempPathFactory, tree: dict[str, bytes], split: int, shuffle: random.Random
) -> None:
    at_once = Bench(tmp_path_factory.mktemp("a"))
    laid = lay(at_once.folder, tree)
    at_once.index()
    apart = Bench(tmp_path_factory.mktemp("b"))
    some = list(laid.items())
    shuffle.shuffle(some)
    lay(apart.folder, dict(some[:split]))
    apart.index()
    lay(apart.folder, dict(some[split:]))
    apart.index()
    assert seen(at_once) == seen(apart)
    assert {sha(data) for data in laid.values()} <= set(seen(at_once))


@settings(max_examples=15)
@given(first=trees, second=trees)
def test_the_catalogue_says_what_is_there(
    tmp_path_factory: pytest.TempPathFactory, first: dict[str, bytes], second: dict[str, bytes]
) -> None:
    """Whatever lay there before, after indexing the catalogue is as a new one would be."""
    bench = Bench(tmp_path_factory.mktemp("a"))
    lay(bench.folder, first)
    bench.index()
    subprocess.run(["find", str(bench.folder), "-mindepth", "1", "-delete"], check=True)
    lay(bench.folder, second)
    bench.index()
    fresh = Bench(tmp_path_factory.mktemp("b"))
    lay(fresh.folder, second)
    fresh.index()
    assert seen(bench) == seen(fresh)
    with Store.open(bench.context.catalogue) as store, store.reading() as connection:
        texts = connection.exec_driver_sql("SELECT piece_id FROM search ORDER BY 1").fetchall()
        ids = connection.exec_driver_sql("SELECT id FROM piece ORDER BY 1").fetchall()
        assert texts == ids
    with Store.open(bench.context.catalogue) as store, store.writing() as connection:
        connection.exec_driver_sql("INSERT INTO search_index(search_index, rank) VALUES('integrity-check', 1)")


def test_two_at_once(bench: Bench) -> None:
    """Two windows indexing the same folder wait for each other and agree."""
    for number in range(400):
        bench.put(f"{number % 20}/{number}.bin", b"%d \0" % (number % 150))
    failed: list[BaseException] = []

    def run() -> None:
        try:
            bench.index()
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=run) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    assert len(bench.pieces()) == 150
    assert sum(len(one.places) for one in bench.pieces().values()) == 400


def on_both_paths() -> list[Callable[[bytes], bytes]]:
    return [lambda data: data, lambda data: data * 40_000]


@pytest.mark.parametrize("grow", on_both_paths())
def test_short_and_long_files_read_alike(bench: Bench, grow: Callable[[bytes], bytes]) -> None:
    bench.put("a.txt", grow(b"A line of text, version 21.00.05 of it.\n"))
    bench.index()
    (piece,) = bench.pieces().values()
    assert piece.kind == "text"


@pytest.mark.parametrize("name", ["iso_holds_itself", "gzip_unpacks_to_itself"])
def test_what_holds_itself_goes_when_its_file_goes(name: str, bench: Bench) -> None:
    bench.put("keep.bin", b"stays \0")
    ring = bench.put("ring.iso", traps.TRAPS[name]())
    with zipfile.ZipFile(bench.folder / "around.zip", "w") as made:
        made.writestr("ring.iso", traps.TRAPS[name]())
    assert bench.index().pieces == 3
    os.unlink(ring)
    bench.index()
    assert len(bench.pieces()) == 3
    (bench.folder / "around.zip").unlink()
    bench.index()
    assert [one.kind for one in bench.pieces().values()] == ["opaque"]
