"""The two ruled strips under a comparison: what is marked differs, what is not is the same, keys and mouse agree."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from catalogue.shapes.comparison import Comparison, FieldDifference, RangeDifference, Side
from tests.ui.world import sha
from ui import tasks
from ui.models.difference_rows import rows_of
from ui.widgets.pair_strip import NONE, PairStrip, Stretch

BYTES = {
    sha(1): bytes(range(256)) * 4,
    sha(2): bytes(range(16)) + b"\xff\xfe" + bytes(range(18, 256)) + bytes(range(256)) * 2,
}
RANGE = RangeDifference(16, 2, "1011", "fffe", 2, 16, 2)
FIELD = FieldDifference("piece", "x", 1, 2, a_offset=14, b_offset=14, a_length=4, b_length=4)
DONE = Comparison(
    False, (FIELD,), (RANGE,), Side(sha(1), sha(1), 1024, "opaque", ""), Side(sha(2), sha(2), 768, "", "")
)


@pytest.fixture
def strip(world, monkeypatch):
    monkeypatch.setattr(tasks, "bytes_of", lambda context, what, at, length: BYTES[what][at : at + length])
    made = PairStrip(world.session, world.window)
    made.resize(700, made.sizeHint().height())
    world.window.resize(900, 600)
    world.window.show()
    made.show_pieces(sha(1), 1024, sha(2), 768)
    yield made
    made.deleteLater()


def shown(strip, world, a, b):
    strip.show_stretches(a, b)
    strip.grab()
    world.settle(lambda: strip.stores[0].peek(0) is not None and strip.stores[1].peek(0) is not None)
    strip.grab()
    return strip


def test_wedges_point_at_the_bytes_that_differ_and_at_no_others(strip, world):
    shown(strip, world, Stretch(14, 8), Stretch(14, 8))
    assert strip.differing() == [2, 3]
    assert "8 bytes at 000Eh: 0E 0F 10 11" in strip.accessibleDescription()
    assert "0E 0F FF FE" in strip.accessibleDescription()


def test_keys_and_mouse_walk_both_at_once(strip, world):
    said = []
    strip.told.connect(said.append)
    shown(strip, world, Stretch(16, 2), Stretch(16, 2))
    for key in (Qt.Key.Key_Right, Qt.Key.Key_Right, Qt.Key.Key_Right, Qt.Key.Key_Home):
        QTest.keyClick(strip, key)
    assert said[0] == "Byte 0010h of A is 10h, 16; Byte 0010h of B is FFh, 255"
    assert said[1:3] == ["Byte 0011h of A is 11h, 17; Byte 0011h of B is FEh, 254"] * 2
    assert strip.at == 0
    laid = strip.tapes()[1]
    QTest.mouseClick(strip, Qt.MouseButton.LeftButton, pos=laid.cell_box(17).center())
    assert strip.at == 1


def test_a_side_without_bytes_says_so_and_neither_hides_the_strip(strip, world):
    shown(strip, world, NONE, Stretch(700, 9))
    assert strip.isVisible()
    assert strip.differing() == []
    assert "A has no bytes here" in strip.accessibleDescription()
    strip.stand_on(0)
    strip.show_stretches(NONE, NONE)
    assert not strip.isVisible()
    strip.show_stretches(Stretch(5_000, 4), Stretch(-4, 4))
    assert strip.stretches == (NONE, NONE)


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 1_100), st.integers(0, 600), st.integers(0, 1_100), st.integers(0, 600), st.integers(40, 900))
def test_any_stretches_at_any_width_are_drawn(strip, world, a, a_long, b, b_long, wide):
    """What is marked is what differs in the bytes themselves, as far as the strips show them."""
    strip.resize(wide, strip.sizeHint().height())
    shown(strip, world, Stretch(a, a_long), Stretch(b, b_long))
    one, other = strip.stretches
    for at in strip.differing():
        assert BYTES[sha(1)][one.offset + at] != BYTES[sha(2)][other.offset + at]
    QTest.keyClick(strip, Qt.Key.Key_End)
    strip.grab()


def test_rows_know_their_bytes_and_the_sheet_shows_them(world, monkeypatch):
    assert [(one.a_bytes, one.b_bytes) for one in rows_of(DONE)] == [((14, 4), (14, 4)), ((16, 2), (16, 2))]
    unpacked = replace(DONE, fields=(replace(FIELD, inside="unpacked"),), ranges=(replace(RANGE, a_length=0),))
    assert [(one.a_bytes, one.b_bytes) for one in rows_of(unpacked)] == [(None, None), (None, (16, 2))]
    monkeypatch.setattr(tasks, "bytes_of", lambda context, what, at, length: BYTES[what][at : at + length])
    monkeypatch.setattr(tasks, "compare", lambda context, a, b, stopper: DONE)
    from ui.widgets.comparison_sheet import ComparisonSheet

    sheet = ComparisonSheet(world.session, world.window)
    sheet.resize(600, 600)
    world.window.show()
    sheet.show()
    sheet.compare(sha(1), "one", sha(2), "other")
    world.settle(lambda: sheet.done is not None)
    assert sheet.strip.stretches == (Stretch(14, 4), Stretch(14, 4))
    sheet.list.selectRow(1)
    world.settle(lambda: sheet.strip.stores[1].peek(16) is not None)
    QTest.keyClick(sheet.strip, Qt.Key.Key_Right)
    assert "Byte 0010h of B is FFh" in sheet._foot.text()
    sheet.deleteLater()


def test_the_row_a_person_stands_on_stays_in_view_when_the_words_below_grow(world, monkeypatch):
    from ui.widgets.comparison_sheet import ComparisonSheet

    rows = tuple(replace(RANGE, offset=16 + at, a="10" * 200, a_length=200) for at in range(40))
    monkeypatch.setattr(tasks, "bytes_of", lambda context, what, at, length: BYTES[what][at : at + length])
    monkeypatch.setattr(tasks, "compare", lambda context, a, b, stopper: replace(DONE, ranges=rows))
    sheet = ComparisonSheet(world.session, world.window)
    sheet.resize(380, 620)
    world.window.show()
    sheet.show()
    sheet.compare(sha(1), "one", sha(2), "other")
    world.settle(lambda: sheet.done is not None)
    last = sheet.rows.rowCount() - 1
    sheet.list.selectRow(last)
    sheet.list.scrollToBottom()
    before = sheet.list.height()
    sheet.strip.stand_on(1)
    world.settle(lambda: sheet.list.height() < before)
    assert sheet.list.height() < before
    assert sheet.list.viewport().rect().contains(sheet.list.visualRect(sheet.list.currentIndex()))
    sheet.deleteLater()
