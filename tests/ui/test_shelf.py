"""The Shelf's list: the first pieces at once and then all, one kind only; a catalogue that was not there is told of."""

from array import array

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester, QTest

from tests.ui.world import TITLES, shelf_row
from ui import tasks
from ui.models.piece_table import PAGE, PieceTable
from ui.pages.shelf import FIRST_IDS
from ui.start import _new_catalogue
from ui.text import KINDS, kind_words


@pytest.fixture
def opened(world):
    world.pieces = 1_000
    world.window.show()
    world.window.start()
    world.settle()
    return world


def test_the_first_pieces_are_asked_for_before_all_of_them(opened, monkeypatch):
    asked = []
    real = tasks.shelf_ids
    monkeypatch.setattr(tasks, "shelf_ids", lambda *a, **k: asked.append(k.get("most")) or real(*a, **k))
    page = opened.window.page(0)
    page.search.setText("option")
    opened.settle()
    assert asked == [FIRST_IDS, None]
    assert page.table.rowCount() == 250
    asked.clear()
    page.search.setText("zip archive, 14 members zebra")
    opened.settle()
    assert asked == [FIRST_IDS]
    assert page.table.rowCount() == 0


def test_a_row_far_down_is_kept_when_the_shelf_is_looked_at_again(opened):
    page = opened.window.page(0)
    assert page.table.rowCount() == 1_000
    page.list.selectRow(700)
    opened.settle()
    page._look()
    opened.settle()
    assert page.list.currentIndex().row() == 700


def test_one_kind_is_listed_alone_and_stays_picked(opened):
    page = opened.window.page(0)
    kinds = page.kinds
    assert [kinds.itemText(at) for at in range(kinds.count())] == [
        "Every kind",
        *(f"{kind_words(kind)}, 10" for _, kind, *_ in TITLES),
    ]
    kinds.setFocus()
    for _ in range(3):
        QTest.keyClick(kinds, Qt.Key.Key_Down)
    assert kinds.kind == "opaque"
    opened.settle()
    assert page.table.rowCount() == 250
    page._look()
    opened.settle()
    assert kinds.kind == "opaque"
    assert page.table.rowCount() == 250
    kinds.show_kinds([("text", 3)])
    assert (kinds.kind, kinds.currentText()) == ("opaque", "Bytes of no known format, 0")


def test_kinds_have_words():
    assert kind_words("firmware-volume") == "Firmware volume"
    assert kind_words("archive/zip") == "Archive, zip"
    assert all(words[0].isupper() for words in KINDS.values())


def test_more_ids_come_behind_those_that_are_shown(qapp):
    table = PieceTable()
    tester = QAbstractItemModelTester(table, QAbstractItemModelTester.FailureReportingMode.Fatal)
    table.show_ids(array("q", range(PAGE)))
    table.take_page(table.round, 0, [shelf_row(one) for one in table.page_ids(0)])
    held = table.round
    table.extend_ids(array("q", range(3 * PAGE)))
    assert (table.rowCount(), table.round) == (3 * PAGE, held)
    assert table.row(3) is not None
    assert table.row(PAGE) is None
    table.take_page(table.round, 1, [shelf_row(one) for one in table.page_ids(1)])
    assert table.row(PAGE).id == PAGE
    table.extend_ids(array("q", [7, 8]))
    assert (table.rowCount(), table.round) == (2, held + 1)
    table.extend_ids(array("q", [7, 8, 9]))  # a page that was not whole is asked for anew
    assert (table.rowCount(), table.round) == (3, held + 2)
    assert FIRST_IDS % PAGE == 0
    assert tester


def test_a_catalogue_that_is_not_there_is_told_of(tmp_path):
    there = tmp_path / "there.db"
    there.write_bytes(b"")
    assert _new_catalogue(None) == ""
    assert _new_catalogue("postgresql://bench/db") == ""
    assert _new_catalogue(str(there)) == ""
    assert "no catalogue" in _new_catalogue(str(tmp_path / "thre.db"))
