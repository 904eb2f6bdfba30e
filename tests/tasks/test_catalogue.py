"""The tasks over the catalogue: pieces, show, shelf, vouch."""

from __future__ import annotations

import hashlib
import io
import os
import zipfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.errors import BadCall, NotWorkable
from catalogue.store import Store
from catalogue.tasks import index, pieces, shelf, show, vouch
from catalogue.tasks.context import Context
from tests.formats.build_rom import Made, rom

ROM = rom(Made(vendor=0xF234, device=0x0081, devices=(0x0081, 0x0082), revision=3))
NOTE = b"Release 21.00.05 of the Heron notes.\n"


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def zipped(members: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name, data in members.items():
            made.writestr(name, data)
    return out.getvalue()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "in").mkdir()
    return tmp_path / "in"


@pytest.fixture
def context(tmp_path: Path, folder: Path) -> Context:
    made = Context(str(tmp_path / "c.sqlite"))
    (folder / "boot.rom").write_bytes(ROM)
    (folder / "Downloads").mkdir()
    (folder / "Downloads" / "Heron_ü.zip").write_bytes(zipped({"notes/Read Me.txt": NOTE, "boot.rom": ROM}))
    (folder / "opaque.bin").write_bytes(b"\1\0" + os.urandom(3000))
    index.run(made, [folder])
    return made


# Pieces


def test_pieces_newest_first(context: Context, folder: Path) -> None:
    (folder / "later.bin").write_bytes(b"later \0")
    index.run(context, [folder])
    found = pieces.run(context)
    assert found[0].sha256 == sha(b"later \0")
    assert len(found) == 5
    assert [one.sha256 for one in pieces.run(context, limit=2)] == [one.sha256 for one in found[:2]]
    assert pieces.run(context, limit=0) == []


def test_pieces_of_a_kind(context: Context) -> None:
    (found,) = pieces.run(context, kind="option-rom/legacy-x86")
    assert found.sha256 == sha(ROM)
    assert found.ids[0].vendor == 0xF234
    assert pieces.run(context, kind="no-such-kind") == []


@pytest.mark.parametrize(
    ("card", "hits"), [((0xF234, 0x0081), 1), ((0xF234, 0x0082), 1), ((0xF234, 0x0083), 0), ((0x0081, 0xF234), 0)]
)
def test_pieces_for_a_card(context: Context, card: tuple[int, int], hits: int) -> None:
    assert len(pieces.run(context, card=card)) == hits


@pytest.mark.parametrize(
    ("text", "hits"),
    [
        ("", 4),
        ("heron", 3),
        ("HERON read", 1),
        ("read me heron", 1),
        ("ü", 0),
        ("Ü.ZIP", 3),
        ("boot.rom", 1),
        ("oot.ro", 1),
        ("xyz", 0),
        ('"', 0),
        ("heron AND", 0),
        ("%", 0),
        ("_", 0),
        ("ü her", 3),
        ("re", 1),
        ("heron_*", 0),
        ("' OR 1", 0),
        ("\0", 0),
    ],
)
def test_pieces_by_text(context: Context, text: str, hits: int) -> None:
    assert len(pieces.run(context, text=text)) == hits


names = st.text(st.sampled_from("abcAB .-_ü漢'\"%"), min_size=1, max_size=12).filter(
    lambda name: name.strip(". ") != ""
)


@settings(max_examples=20)
@given(st.lists(names, min_size=1, max_size=6, unique=True), st.text(st.sampled_from("abAB ü漢'\"%_"), max_size=7))
def test_search_is_substrings(tmp_path_factory: pytest.TempPathFactory, called: list[str], query: str) -> None:
    """Against plain Python: every word is part of the folded text."""
    folder = tmp_path_factory.mktemp("in")
    for number, name in enumerate(called):
        (folder / name).write_bytes(b"%d \0" % number)
    context = Context(str(tmp_path_factory.mktemp("c") / "c.sqlite"))
    index.run(context, [folder])
    words = query.casefold().split()
    wanted: set[str] = set()
    for number, name in enumerate(called):
        text = f"{name} {folder.name}".casefold()
        if len(words) == 1 and len(words[0]) < 3:
            hit = text.startswith(words[0])
        else:
            hit = all(word in text for word in words)
        if hit:
            wanted.add(sha(b"%d \0" % number))
    assert {one.sha256 for one in pieces.run(context, text=query)} == wanted


# Show


def test_show_a_file_that_is_not_indexed(tmp_path: Path) -> None:
    file = tmp_path / "boot.rom"
    file.write_bytes(ROM)
    context = Context(str(tmp_path / "c.sqlite"))
    detail = show.run(context, str(file))
    assert (detail.info.sha256, detail.info.size, detail.info.kind) == (sha(ROM), len(ROM), "option-rom/legacy-x86")
    assert [place.path for place in detail.info.places] == [str(file)]
    assert pieces.run(context) == [], "showing stores nothing"


def test_show_an_indexed_one(context: Context, folder: Path) -> None:
    by_path = show.run(context, str(folder / "boot.rom"))
    by_hash = show.run(context, sha(ROM))
    by_beginning = show.run(context, sha(ROM)[:12].upper())
    by_place = show.run(context, f"{folder / 'Downloads' / 'Heron_ü.zip'} › boot.rom")
    assert by_path.info.places == by_hash.info.places == by_beginning.info.places == by_place.info.places
    assert len(by_path.info.places) == 2
    assert by_path.reading == by_hash.reading
    assert [one.rung for one in by_path.info.vouch] == ["neighbour"]


def test_show_another_copy(context: Context, tmp_path: Path) -> None:
    (tmp_path / "copy.rom").write_bytes(ROM)
    assert len(show.run(context, str(tmp_path / "copy.rom")).info.places) == 3


def test_show_a_com_program_by_its_name(tmp_path: Path) -> None:
    (tmp_path / "X.Com").write_bytes(b"\xb4\x4c\xcd\x21\0")
    assert show.run(Context(str(tmp_path / "c")), str(tmp_path / "X.Com")).info.kind == "dos-program"


def test_show_relative_path(context: Context, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)
    assert str(folder / "boot.rom") in [place.path for place in show.run(context, "boot.rom").info.places]
    assert show.run(context, "Downloads/Heron_ü.zip › boot.rom").info.sha256 == sha(ROM)


def test_show_what_is_gone(context: Context, folder: Path) -> None:
    (folder / "opaque.bin").unlink()
    (opaque,) = pieces.run(context, text="opaque.bin")
    detail = show.run(context, opaque.sha256)
    assert detail.info.kind == "opaque"
    assert [note.code for note in detail.reading.notes] == ["not-read-again"]


def test_show_refuses(context: Context, folder: Path) -> None:
    os.mkfifo(folder / "pipe")
    for what, says in {
        "nowhere.bin": "There is no file nowhere.bin",
        "": "Nothing is named",
        "\0": "There is no file",
        str(folder): "is a folder",
        str(folder / "pipe"): "neither a file nor a folder",
        "0" * 64: "No piece of the catalogue",
        f"{folder / 'boot.rom'} › x": "is not in the catalogue",
        "x" * 5000: "There is no file",
    }.items():
        with pytest.raises(BadCall, match=says.replace("(", "\\(")):
            show.run(context, what)


def test_several_pieces_begin_alike(tmp_path: Path) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    seen: dict[str, int] = {}
    for number in range(2000):
        (folder / str(number)).write_bytes(b"%d \0" % number)
        seen[sha(b"%d \0" % number)[:4]] = seen.get(sha(b"%d \0" % number)[:4], 0) + 1
    context = Context(str(tmp_path / "c.sqlite"))
    index.run(context, [folder])
    twice = next(begins for begins, count in seen.items() if count > 1)
    once = next(begins for begins, count in seen.items() if count == 1)
    with pytest.raises(BadCall, match="Several pieces"):
        show.run(context, twice)
    assert show.run(context, once).info.sha256.startswith(once)


def test_bytes_of(context: Context, folder: Path) -> None:
    for what in (str(folder / "boot.rom"), sha(ROM), f"{folder / 'Downloads' / 'Heron_ü.zip'} › boot.rom"):
        assert show.bytes_of(context, what, 0, 4) == ROM[:4]
        assert show.bytes_of(context, what, 100, 1 << 30) == ROM[100:]
        assert show.bytes_of(context, what, len(ROM), 10) == b""
        assert show.bytes_of(context, what, -5, 10) == b""
        assert show.bytes_of(context, what, 5, -10) == b""


# Shelf


def test_shelf(context: Context, folder: Path) -> None:
    at = shelf.state(context)
    assert (at.pieces, at.new, at.folders) == (4, 4, (str(folder),))
    everything = shelf.ids(context, "")
    assert len(everything) == 4
    rows = shelf.rows(context, everything)
    assert [row.id for row in rows] == list(everything)
    (row,) = shelf.rows(context, shelf.ids(context, "f234:0082"))
    assert row.sha256 == sha(ROM)
    assert row.card.startswith("F234:0081")
    assert (row.vouch, row.new, row.size) == ("neighbour", True, len(ROM))
    assert row.place == f"{folder / 'Downloads' / 'Heron_ü.zip'} › boot.rom"
    assert shelf.ids(context, sha(ROM)[:10]) == shelf.ids(context, sha(ROM)) == shelf.ids(context, "boot.rom f234:0081")
    assert len(shelf.ids(context, "f234:0081 nothing")) == 0
    assert shelf.rows(context, [*everything, 99999]) == rows


def test_shelf_tells_what_is_new(context: Context, folder: Path) -> None:
    (folder / "later.bin").write_bytes(b"later \0")
    index.run(context, [folder])
    assert shelf.state(context).new == 1
    (row,) = shelf.rows(context, shelf.ids(context, "", only_new=True))
    assert row.sha256 == sha(b"later \0")
    assert sum(row.new for row in shelf.rows(context, shelf.ids(context, ""))) == 1
    index.run(context, [folder])
    assert shelf.state(context).new == 0


def test_a_search_ends_when_it_is_no_longer_wanted(context: Context, monkeypatch: pytest.MonkeyPatch) -> None:
    from catalogue.store import store

    monkeypatch.setattr(store, "STEPS", 1)
    with pytest.raises(NotWorkable, match="stopped"):
        shelf.ids(context, "heron", stopped=lambda: True)
    assert len(shelf.ids(context, "heron", stopped=lambda: False)) == 3


# Vouch


def test_vouch_refuses(context: Context, folder: Path, tmp_path: Path) -> None:
    prose = tmp_path / "prose.txt"
    prose.write_text("No digest stands here.\n")
    good = tmp_path / "good.txt"
    good.write_text(f"{sha(ROM)}  boot.rom\n")
    for file, source, says in (
        (tmp_path / "nowhere", "page", "There is no checksum list"),
        (folder, "page", "There is no checksum list"),
        (prose, "page", "no checksum list"),
        (good, "  ", "source"),
    ):
        with pytest.raises(BadCall, match=says):
            vouch.record_list(context, file, source, "Ann")
    with Store.open(context.catalogue) as store, store.reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM recorded_list").scalar() == 0


def test_vouch_says_what_changed(context: Context, tmp_path: Path) -> None:
    (tmp_path / "good.txt").write_text(f"{sha(ROM)}  boot.rom\n")
    done = vouch.record_list(context, tmp_path / "good.txt", "the maker's page", "")
    assert (done.entries, done.matched, done.contradicted) == (1, 1, ())
    assert done.changes.vouching
    (row,) = shelf.rows(context, shelf.ids(context, "boot.rom"))
    assert row.vouch == "named"
