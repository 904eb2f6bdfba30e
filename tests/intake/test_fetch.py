"""Bytes of a piece again, proved, from wherever it lies."""

from __future__ import annotations

import hashlib
import io
import os
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from catalogue.errors import NotWorkable
from catalogue.intake import bounds, fetch, whole
from catalogue.store import Store, evidence
from catalogue.tasks import index
from catalogue.tasks.context import Context

FW = b"firmware \0" + os.urandom(5000) + b"."
LARGE = os.urandom(9 << 20) + bytes(1 << 20)


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def zipped(members: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as made:
        for name, data in members.items():
            made.writestr(name, data)
    return out.getvalue()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "in").mkdir()
    return tmp_path / "in"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(str(tmp_path / "c.sqlite")) as opened:
        yield opened


def indexed(store: Store, folder: Path) -> None:
    index.run(Context(store.name), [folder])


def streamed(store: Store, data: bytes) -> bytes:
    with fetch.open_piece(store, sha(data)) as stream:
        return stream.read()


@pytest.mark.parametrize("data", [b"", b"x", FW, LARGE])
@pytest.mark.parametrize("way", ["loose", "deflated", "stored", "nested"])
def test_every_way(store: Store, folder: Path, data: bytes, way: str) -> None:
    if way == "loose":
        (folder / "a.bin").write_bytes(data)
    elif way == "nested":
        (folder / "a.zip").write_bytes(zipped({"x/b.zip": zipped({"y/c.bin": data, "d": b"d"})}))
    else:
        method = zipfile.ZIP_STORED if way == "stored" else zipfile.ZIP_DEFLATED
        (folder / "a.zip").write_bytes(zipped({"first": b"first", "c.bin": data}, method))
    indexed(store, folder)
    assert fetch.piece_bytes(store, sha(data)) == data
    assert streamed(store, data) == data


def test_falls_back_to_another_place(store: Store, folder: Path) -> None:
    (folder / "a.bin").write_bytes(FW)
    (folder / "b.bin").write_bytes(FW)
    (folder / "z.zip").write_bytes(zipped({"c.bin": FW}))
    indexed(store, folder)
    (folder / "a.bin").write_bytes(FW[:-1] + b"?")
    assert fetch.piece_bytes(store, sha(FW)) == FW
    (folder / "b.bin").unlink()
    assert streamed(store, FW) == FW
    (folder / "z.zip").write_bytes(zipped({"c.bin": FW[:-1] + b"?"}))
    with pytest.raises(NotWorkable, match="cannot be had") as caught:
        fetch.piece_bytes(store, sha(FW))
    assert str(folder / "a.bin") in str(caught.value)
    store.keep(sha(FW), iter((FW,)))
    assert fetch.piece_bytes(store, sha(FW)) == FW


@pytest.mark.parametrize("data", [FW, LARGE])
def test_changed_or_gone_is_never_given(store: Store, folder: Path, data: bytes) -> None:
    (folder / "a.bin").write_bytes(data)
    indexed(store, folder)
    for change in (data[:-1], data + b"\0", b"\1" + data[1:]):
        (folder / "a.bin").write_bytes(change)
        with pytest.raises(NotWorkable):
            streamed(store, data)
        with pytest.raises(NotWorkable):
            fetch.piece_bytes(store, sha(data))
    (folder / "a.bin").unlink()
    with pytest.raises(NotWorkable, match="No such file"):
        fetch.piece_bytes(store, sha(data))
    (folder / "a.bin").symlink_to("/etc/passwd")
    with pytest.raises(NotWorkable):
        fetch.piece_bytes(store, sha(data))
    (folder / "a.bin").unlink()
    os.mkfifo(folder / "a.bin")
    with pytest.raises(NotWorkable, match="regular"):
        fetch.piece_bytes(store, sha(data))


def test_changed_while_it_is_read(store: Store, folder: Path) -> None:
    (folder / "a.bin").write_bytes(LARGE)
    indexed(store, folder)
    with fetch.open_piece(store, sha(LARGE)) as stream:
        stream.read(1000)
        with (folder / "a.bin").open("r+b") as file:
            file.seek(9 << 20)
            file.write(b"changed")
        with pytest.raises(NotWorkable, match="changed while it was read"):
            while stream.read(1 << 20):
                pass


def test_too_long_and_unknown(store: Store, folder: Path) -> None:
    (folder / "a.bin").write_bytes(LARGE)
    indexed(store, folder)
    with pytest.raises(NotWorkable, match="longer than"):
        fetch.piece_bytes(store, sha(LARGE), most=1 << 20)
    with pytest.raises(NotWorkable, match="No piece"):
        fetch.piece_bytes(store, "00" * 32)


def test_each_opens_an_archive_once(store: Store, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    bodies = {f"{number}.bin": b"%d \0" % number + os.urandom(50) for number in range(200)}
    (folder / "a.zip").write_bytes(zipped({"inner.zip": zipped(bodies)}))
    (folder / "b.bin").write_bytes(FW)
    indexed(store, folder)
    opened: list[bytes] = []
    real = os.open

    def counting(path: bytes, *more: int, **how: int) -> int:
        opened.append(path)
        return real(path, *more, **how)

    monkeypatch.setattr(os, "open", counting)
    wanted = [sha(body) for body in bodies.values()] + [sha(FW), "00" * 32]
    found = dict(fetch.each(store, wanted))
    assert found == {sha(body): body for body in bodies.values()} | {sha(FW): FW}
    assert len([path for path in opened if path.endswith(b".zip")]) == 1


def test_each_says_none_for_what_is_gone(store: Store, folder: Path) -> None:
    (folder / "a.bin").write_bytes(FW)
    (folder / "b.bin").write_bytes(b"b \0")
    (folder / "c.bin").write_bytes(LARGE)
    indexed(store, folder)
    (folder / "a.bin").unlink()
    assert dict(fetch.each(store, [sha(FW), sha(b"b \0"), sha(LARGE)], most=1 << 20)) == {
        sha(FW): None,
        sha(b"b \0"): b"b \0",
        sha(LARGE): None,
    }


def test_large_member_is_streamed(store: Store, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "a.zip").write_bytes(zipped({"large.bin": LARGE}))
    indexed(store, folder)
    monkeypatch.setattr(bounds, "MAX_MEMBER_BYTES", 1 << 20)
    assert streamed(store, LARGE) == LARGE


# Whole readings


def test_long_opaque_pieces_are_only_glanced_at(store: Store, folder: Path) -> None:
    data = b"\1\0" + os.urandom(100_000).replace(b".", b"") + b"\0Version 21.00.05\0" + bytes(100)
    (folder / "fw.bin").write_bytes(data)
    indexed(store, folder)
    assert evidence.facts(store, [sha(data)])[sha(data)].reading.versions == ()
    assert "21.00.05" in [one.value for one in whole.reading_of(store, sha(data)).versions]
    assert whole.deepen(store, [sha(data)]) == 1
    kept = evidence.facts(store, [sha(data)])[sha(data)]
    (claim,) = [one for one in kept.reading.versions if one.value == "21.00.05"]
    assert claim.offset is not None
    assert data[claim.offset :].startswith(b"21.00.05")
    assert whole.deepen(store, [sha(data)]) == 0
    indexed(store, folder)
    assert evidence.facts(store, [sha(data)])[sha(data)].reading == kept.reading


def test_deepening_leaves_what_is_gone(store: Store, folder: Path) -> None:
    data = os.urandom(100_000)
    (folder / "fw.bin").write_bytes(data)
    indexed(store, folder)
    (folder / "fw.bin").unlink()
    assert whole.deepen(store, [sha(data), "00" * 32]) == 0
    assert whole.reading_of(store, sha(data)).notes[-1].code == "not-read-again"
