"""Better readers read again only what they must, and nothing stays that they would read otherwise.

The catalogue is held against one that was filled by the newer readers alone: nothing in it may differ.
"""

from __future__ import annotations

import contextlib
import io
import os
import tarfile
import time
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import select

from catalogue import formats
from catalogue.formats.reader import FIRST_BYTES, Looks, Reader
from catalogue.intake import files, indexing, reading, whole
from catalogue.intake.containers import CONTAINERS
from catalogue.intake.reading import INTAKE_VERSION, read_by
from catalogue.shapes.reading import Reading
from catalogue.store import Store, rereading
from catalogue.store.places import places_of
from catalogue.store.reading_text import load
from catalogue.store.tables import inner_format, member, piece
from catalogue.store.tables import reading as body
from catalogue.tasks import index
from catalogue.tasks.context import Context
from tests.contracts.samples import SAMPLES
from tests.formats.build_hex import intel_hex
from tests.formats.build_rom import efi, rom

Where = Callable[[str], bool]


def packed(of: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        for name, data in of.items():
            made.writestr(name, data)
    return out.getvalue()


def wrapped(of: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w:gz") as made:
        for name, data in of.items():
            info = tarfile.TarInfo(name)
            info.size = len(data)
            made.addfile(info, io.BytesIO(data))
    return out.getvalue()


@pytest.fixture(scope="module")
def downloads(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sample or two of every format, loose and in archives, some two archives deep; and what nobody knows."""
    folder = tmp_path_factory.mktemp("downloads")
    seen: dict[str, int] = {}
    for one in SAMPLES:
        seen[one.reader] = seen.get(one.reader, 0) + 1
        if seen[one.reader] <= 2:
            (folder / f"{one.reader}-{seen[one.reader]}.bin").write_bytes(one.data)
    (folder / "packed.hex").write_bytes(intel_hex({0x1000: rom(efi(blocks=4))}))
    first = {one.reader: one.data for one in reversed(SAMPLES)}
    (folder / "roms.zip").write_bytes(packed({"a.rom": first["option-rom"], "note.txt": b"a note\n"}))
    (folder / "deep.zip").write_bytes(packed({"in.tgz": wrapped({"u.uf2": first["uf2"], "x.bin": b"\1\2\3\4" * 9})}))
    for number in range(30):
        (folder / f"chance-{number}.bin").write_bytes(bytes([number]) * 3 + b"KTP1"[number % 4 :] + b"\0\5")
    (folder / "marked.bin").write_bytes(b"KTP1 for a reader that nobody has written yet\0")
    (folder / "marked.zip").write_bytes(packed({"marked.two": b"KTP1 another\0\1"}))
    past = time.time() - 1000.5
    for path in folder.iterdir():
        os.utime(path, (past, past))
    time.sleep(files.FRESH_NS / 1e9 * 1.5)
    return folder


def give(
    patch: pytest.MonkeyPatch, rows: tuple[Reader, ...], containers: object = None, intake: int = INTAKE_VERSION
) -> None:
    """Work with other readers from now on."""
    text = read_by(rows, containers or CONTAINERS.values(), intake)  # type: ignore[arg-type]
    for room in (indexing, whole, reading):
        patch.setattr(room, "READ_BY", text)
    known = rows[:-1]
    unfixed = tuple(row for row in known if not row.first)
    for name, value in (
        ("READERS", rows),
        ("_KNOWING", known),
        ("_UNFIXED", unfixed),
        ("_BINARY", tuple(row for row in unfixed if not row.text)),
        ("_FIRST", firsts := tuple(first for row in rows for first in row.first)),
        ("_FIRST_OR_MARK", (*firsts, *formats.MARK_BYTES)),
        ("_FIRST_BYTE", frozenset(one[:1] for one in (*firsts, *formats.MARK_BYTES))),
    ):
        patch.setattr(formats, name, value)


@contextlib.contextmanager
def kept(context: Context) -> Iterator[Store]:
    store = Store.open(str(context.catalogue))
    try:
        yield store
    finally:
        store.close()


def told(context: Context) -> dict[str, object]:
    """Everything the catalogue holds of its pieces, by SHA-256, but for its own numbers."""
    with kept(context) as store, store.reading() as connection:
        shas = dict(connection.execute(select(piece.c.id, piece.c.sha256)).all())
        what = ("size", "kind", "shown_kind", "title", "format", "depth", "is_list", "head")
        columns = [piece.c[name] for name in what]
        found: dict[str, list[object]] = {
            shas[id_].hex(): [tuple(rest)] for id_, *rest in connection.execute(select(piece.c.id, *columns)).all()
        }
        for id_, text in connection.execute(select(body.c.piece_id, body.c.body)).all():
            found[shas[id_].hex()].append(text)
        inner = select(inner_format.c.piece_id, inner_format.c.name).order_by(inner_format.c.name)
        for id_, name in connection.execute(inner).all():
            found[shas[id_].hex()].append(name)
        inside = select(member.c.archive_id, member.c.position, member.c.name, member.c.piece_id, member.c.fault)
        for id_, position, name, of, fault in connection.execute(inside.order_by(member.c.position)).all():
            found[shas[id_].hex()].append((position, name, shas[of].hex() if of else None, fault))
    return found


def readers(text: Reading) -> set[str]:
    return {text.format}.union(*map(readers, text.parts))


def asked(context: Context, where: Callable[[set[str], bytes], bool]) -> set[str]:
    """The files that hold, however deep, a piece of which `where` says so: told from the stored readings alone."""
    with kept(context) as store, store.reading() as connection:
        texts = dict(connection.execute(select(body.c.piece_id, body.c.body)).all())
        hit = {
            id_
            for id_, name, head in connection.execute(select(piece.c.id, piece.c.format, piece.c.head)).all()
            if where(readers(load(texts[id_])) if id_ in texts else {name}, head)
        }
        holds = connection.execute(select(member.c.archive_id, member.c.piece_id)).all()
    while more := {archive for archive, of in holds if of in hit} - hit:
        hit |= more
    return paths(context, hit)


def paths(context: Context, ids: set[int]) -> set[str]:
    with kept(context) as store, store.reading() as connection:
        return {
            Path(place.path).name for some in places_of(connection, ids).values() for place in some if not place.inside
        }


def opened(context: Context, downloads: Path, patch: pytest.MonkeyPatch) -> set[str]:
    """Index again; the names of the files that were opened."""
    names_: set[str] = set()
    once = files._once

    def watched(path: bytes, *rest: object) -> object:
        names_.add(os.fsdecode(os.path.basename(path)))
        return once(path, *rest)  # type: ignore[arg-type]

    patch.setattr(files, "_once", watched)
    index.run(context, [downloads])
    patch.setattr(files, "_once", once)
    return names_


@pytest.fixture
def old(tmp_path: Path, downloads: Path) -> Context:
    context = Context(str(tmp_path / "old.sqlite"))
    index.run(context, [downloads])
    return context


def fresh(tmp_path: Path, downloads: Path) -> dict[str, object]:
    context = Context(str(tmp_path / "fresh.sqlite"))
    index.run(context, [downloads])
    return told(context)


def raised(name: str, **changed: object) -> tuple[Reader, ...]:
    return tuple(replace(row, **changed) if row.name == name else row for row in formats.READERS)  # type: ignore[arg-type]


@pytest.mark.parametrize("name", ["option-rom", "uf2", "text", "zip", "opaque"])
def test_a_reader_that_says_more_reads_again_what_it_read(
    name: str, old: Context, downloads: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    row = next(one for one in formats.READERS if one.name == name)

    def better(view: object, *rest: object) -> Reading | None:
        answer = row.read(view, *rest)  # type: ignore[arg-type, call-arg]
        return answer and replace(answer, title=f"{answer.title}, read better")

    if name == "opaque":
        monkeypatch.setattr(formats.opaque, "TITLE", "Bytes that nobody knows")
        plain = lambda length: Reading(name, name, formats.opaque.TITLE, length=length)  # noqa: E731
        monkeypatch.setattr(formats.opaque, "plain", plain)
        better = row.read
    alone = {row.name for row in formats.READERS if row.alone}
    expected = asked(old, lambda by, _head: name in by or (name == "opaque" and not by <= alone))
    give(monkeypatch, raised(name, version=row.version + 1, read=better))
    assert opened(old, downloads, monkeypatch) == expected
    assert 0 < len(expected) < len(list(downloads.iterdir()))
    assert told(old) == fresh(tmp_path, downloads)
    assert opened(old, downloads, monkeypatch) == set()


def marked(view: object) -> Looks:
    return Looks.SURE if view.at(0, 4) == b"KTP1" else Looks.NO  # type: ignore[attr-defined]


NEW = Reader(
    "marked",
    ("marked",),
    marked,
    lambda view: Reading("marked", "marked", "A marked file", length=view.size),
    1,
    "this test",
    "nothing",
    first=(b"KTP1",),
)


def test_a_new_reader_reads_what_begins_so_and_what_may_hold_it(
    old: Context, downloads: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    alone = {row.name for row in formats.READERS if row.alone}
    expected = asked(old, lambda by, head: not by <= alone or head == b"KTP1")
    give(monkeypatch, (NEW, *formats.READERS))
    assert opened(old, downloads, monkeypatch) == expected
    assert {"marked.bin", "marked.zip"} <= expected
    assert not {f"chance-{number}.bin" for number in range(30)} & expected
    assert told(old) == fresh(tmp_path, downloads)


def test_a_reader_that_goes_leaves_what_it_read_to_the_others(
    old: Context, downloads: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    expected = asked(old, lambda by, _head: "uf2" in by)
    give(monkeypatch, tuple(row for row in formats.READERS if row.name != "uf2"))
    assert opened(old, downloads, monkeypatch) == expected
    assert told(old) == fresh(tmp_path, downloads)


def test_a_reader_that_takes_less_gives_back(
    old: Context, downloads: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    row = next(one for one in formats.READERS if one.name == "device-tree")
    give(monkeypatch, raised("device-tree", sees=row.sees + 1, looks_like=lambda _view: Looks.NO))
    assert {"device-tree-1.bin", "device-tree-2.bin"} <= opened(old, downloads, monkeypatch)
    assert told(old) == fresh(tmp_path, downloads)


@pytest.mark.parametrize("how", ["intake", "order", "unfixed", "garbage"])
def test_what_cannot_be_told_apart_is_all_read_again(
    how: str, old: Context, downloads: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if how == "intake":
        give(monkeypatch, formats.READERS, intake=INTAKE_VERSION + 1)
    elif how == "order":
        give(monkeypatch, (*formats.READERS[1::-1], *formats.READERS[2:]))
    elif how == "unfixed":
        give(monkeypatch, raised("iso", sees=9))
    else:
        monkeypatch.setattr(indexing, "READ_BY", '{"readers": [7], "intake": {}}')
    assert opened(old, downloads, monkeypatch) == {path.name for path in downloads.iterdir()}


def test_a_container_that_opens_better_opens_its_archives_again(
    old: Context, downloads: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = [replace(row, version=2) if row.kind == "archive/tar" else row for row in CONTAINERS.values()]
    expected = asked(old, lambda by, _head: "tar" in by)
    give(monkeypatch, formats.READERS, rows)
    assert opened(old, downloads, monkeypatch) == expected
    assert {"deep.zip", "tar-1.bin"} <= expected
    assert told(old) == fresh(tmp_path, downloads)


def test_a_piece_that_a_reader_failed_on_is_read_again_whatever_changes(
    downloads: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    context = Context(str(tmp_path / "failed.sqlite"))
    with monkeypatch.context() as broken:

        def failing(_view: object) -> None:
            raise RuntimeError("planted")

        give(broken, raised("uf2", read=failing))
        index.run(context, [downloads])
    give(monkeypatch, raised("vpd", version=99))
    expected = asked(context, lambda by, _head: "vpd" in by) | {"uf2-1.bin", "uf2-2.bin", "deep.zip"}
    assert opened(context, downloads, monkeypatch) == expected
    assert told(context) == fresh(tmp_path, downloads)


def test_a_kit_s_pieces_are_read_by_today_s_readers_before_they_are_judged(
    old: Context, downloads: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`deepen` is what a judgement calls for the pieces near a kit: it must not wait for the next index."""
    row = next(one for one in formats.READERS if one.name == "option-rom")
    with kept(old) as store:
        with store.reading() as connection:
            found = connection.execute(select(piece.c.sha256, piece.c.format)).all()
        every = [sha.hex() for sha, _name in found]
        roms = [sha.hex() for sha, name in found if name == "option-rom"]
        whole.deepen(store, every)
        assert rereading.lacking(store, every, whole.READ_BY) == []
        give(monkeypatch, raised("option-rom", version=row.version + 1))
        assert set(roms) <= set(rereading.lacking(store, every, whole.READ_BY))
        assert whole.deepen(store, roms) == len(roms)
        assert rereading.lacking(store, roms, whole.READ_BY) == []


def test_first_bytes_are_as_many_as_a_reader_may_ask_for() -> None:
    assert all(len(first) <= FIRST_BYTES for row in formats.READERS for first in row.first)
