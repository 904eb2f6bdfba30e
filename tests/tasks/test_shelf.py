"""What the Shelf is told: what is new after an indexing that was stopped, and the kinds there are."""

from __future__ import annotations

from pathlib import Path

import pytest

from catalogue.errors import Stopped
from catalogue.tasks import index, shelf
from catalogue.tasks.context import Context
from tests.intake.test_indexing import StopAt


def lay(folder: Path, first: int, count: int) -> None:
    folder.mkdir(exist_ok=True)
    for number in range(first, first + count):
        sub = folder / f"{number // 20:02}"
        sub.mkdir(exist_ok=True)
        (sub / f"{number}.bin").write_bytes(b"%d \0" % number)


def stopped(context: Context, folder: Path, before: int) -> int:
    """Index, stopped at some point where some but not all was kept; how many pieces there are then."""
    for reports in range(1, 50):
        with pytest.raises(Stopped):
            index.run(context, [folder], StopAt(reports))
        count = shelf.state(context).pieces
        if count > before:
            return count
    raise AssertionError("nothing was kept by an indexing that was stopped")


def test_what_a_stopped_first_indexing_brought_is_new(tmp_path: Path) -> None:
    context, folder = Context(str(tmp_path / "c.sqlite")), tmp_path / "in"
    lay(folder, 0, 1_000)
    count = stopped(context, folder, 0)
    state = shelf.state(context)
    assert (state.pieces, state.new) == (count, count)
    ids = shelf.ids(context, "", only_new=True)
    assert len(ids) == count
    assert all(row.new for row in shelf.rows(context, ids[:50]))


def test_after_a_finished_one_only_what_the_stopped_one_brought_is_new(tmp_path: Path) -> None:
    context, folder = Context(str(tmp_path / "c.sqlite")), tmp_path / "in"
    lay(folder, 0, 100)
    index.run(context, [folder])
    assert shelf.state(context).new == 100
    lay(folder, 100, 1_000)
    count = stopped(context, folder, 100)
    assert shelf.state(context).new == count - 100


def test_kinds_are_counted_and_narrow_the_list(tmp_path: Path) -> None:
    context, folder = Context(str(tmp_path / "c.sqlite")), tmp_path / "in"
    lay(folder, 0, 5)
    (folder / "notes.txt").write_text("Bench notes for the heron\n")
    index.run(context, [folder])
    assert shelf.state(context).kinds == (("opaque", 5), ("text", 1))
    assert len(shelf.ids(context, "", kind="text")) == 1
    assert len(shelf.ids(context, "", kind="opaque", most=3)) == 3
    assert len(shelf.ids(context, "notes", kind="opaque")) == 0
    assert len(shelf.ids(context, "notes", kind="text")) == 1
