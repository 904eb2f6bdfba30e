"""Contents kept beside the catalogue."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from catalogue.errors import NotWorkable
from catalogue.intake import fetch
from catalogue.store import Store
from catalogue.tasks import index, pieces
from catalogue.tasks.context import Context

DATA = os.urandom(3_000_000)
SHA = hashlib.sha256(DATA).hexdigest()


def parts(data: bytes) -> Iterator[bytes]:
    for start in range(0, len(data), 700_001):
        yield data[start : start + 700_001]


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(str(tmp_path / "c.sqlite")) as opened:
        yield opened


def test_keep(store: Store) -> None:
    assert store.kept_path(SHA) is None
    store.keep(SHA, parts(DATA))
    path = store.kept_path(SHA)
    assert path is not None
    assert path.read_bytes() == DATA
    assert fetch.piece_bytes(store, SHA) == DATA
    store.keep(SHA, iter(()))  # kept already: nothing is asked for


def test_other_bytes_are_refused(store: Store) -> None:
    with pytest.raises(NotWorkable, match="another SHA-256"):
        store.keep(SHA, parts(DATA[:-1]))
    assert store.kept_path(SHA) is None
    assert [one for one in store.own_paths[-1].rglob("*") if one.is_file()] == []


def test_a_source_that_fails_leaves_nothing(store: Store) -> None:
    def failing() -> Iterator[bytes]:
        yield DATA[:1000]
        raise OSError(5, "Input/output error")

    with pytest.raises(NotWorkable, match="cannot be kept"):
        store.keep(SHA, failing())
    assert [one for one in store.own_paths[-1].rglob("*") if one.is_file()] == []


def test_damaged_kept_content_is_mended(store: Store) -> None:
    store.keep(SHA, parts(DATA))
    path = store.kept_path(SHA)
    assert path is not None
    path.write_bytes(DATA[:-1] + b"?")
    with pytest.raises(NotWorkable, match="changed"):
        fetch.piece_bytes(store, SHA)
    store.keep(SHA, parts(DATA))
    assert path.read_bytes() == DATA


def test_a_kept_piece_stays_when_its_file_is_gone(tmp_path: Path) -> None:
    context = Context(str(tmp_path / "c.sqlite"))
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "kept.bin").write_bytes(b"kept \0")
    (folder / "lost.bin").write_bytes(b"lost \0")
    index.run(context, [folder])
    sha = hashlib.sha256(b"kept \0").hexdigest()
    with Store.open(context.catalogue) as store:
        store.keep(sha, iter((b"kept \0",)))
    for file in folder.iterdir():
        file.unlink()
    assert index.run(context, [folder]).gone == 2
    assert [one.sha256 for one in pieces.run(context)] == [sha]
    with Store.open(context.catalogue) as store:
        assert fetch.piece_bytes(store, sha) == b"kept \0"


def test_the_catalogues_own_files_are_no_pieces(tmp_path: Path) -> None:
    context = Context(str(tmp_path / "c.sqlite"))
    (tmp_path / "a.bin").write_bytes(b"a \0")
    with Store.open(context.catalogue) as store:
        store.keep(SHA, parts(DATA))
    done = index.run(context, [tmp_path])
    assert done.files == 1
