"""Two pieces on the Shelf: one is laid aside, another chosen, and what differs is listed."""

import threading

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from catalogue.errors import Stopped
from catalogue.shapes.comparison import Comparison, FieldDifference, MemberDifference, RangeDifference, Side, Where
from tests.ui.world import ROM_SHA
from ui import tasks
from ui.models.difference_rows import made, rows_of, summary

OTHER = "ab" * 32
A, B = Side(ROM_SHA, ROM_SHA, 512, "option-rom", "ROM"), Side(OTHER, OTHER, 512, "option-rom", "ROM")
DONE = Comparison(
    same=False,
    fields=(
        FieldDifference("legacy x86", "device_id", 0x0C80, 0x0C81, a_offset=6, b_offset=6, a_length=2, b_length=2),
        FieldDifference("piece", "part", None, "EFI x86-64", "b"),
        FieldDifference("piece", "fault rom-damaged", "The bytes sum to 01h.\n\x1b[31m", None, "a"),
    ),
    ranges=(RangeDifference(6, 1, "80", "81", 1, 6, 1, where=(Where("legacy x86", "device_id"),)),),
    a=A,
    b=B,
    fields_same=9,
    bytes_differing=1,
    members=(MemberDifference("b/x.rom", "moved", ROM_SHA, ROM_SHA, 9, 9, "opaque", was="a/x.rom"),),
    members_same=3,
)


@pytest.fixture
def opened(world):
    world.window.resize(1366, 768)
    world.window.show()
    world.window.start()
    world.settle(lambda: world.window.page(0).table.rowCount() > 0)
    return world


def choose(world, row):
    page = world.window.page(0)
    page.list.selectRow(row)
    world.settle(lambda: page.sheet.detail is not None)
    return page


def test_keys_lay_one_aside_and_compare_another_with_it(opened, monkeypatch):
    calls = []
    monkeypatch.setattr(tasks, "compare", lambda context, a, b, stopper: calls.append((a, b)) or DONE)
    page = choose(opened, 0)
    first = page.bar._shown
    assert not page.bar.forget.isVisible()
    QTest.keyClick(page, Qt.Key.Key_D, Qt.KeyboardModifier.ControlModifier)
    assert page.bar.held == first
    assert "Choose another piece" in page.bar.words.text()
    assert not page.bar.act.isEnabled()
    page.bar.show_piece(OTHER, "ROM")
    QTest.keyClick(page, Qt.Key.Key_D, Qt.KeyboardModifier.ControlModifier)
    opened.settle(lambda: page.differences.done is not None)
    assert calls == [(first.sha256, OTHER)]
    sheet = page.differences
    assert sheet.isVisible() and not page.sheet.isVisible()
    assert sheet.rows.rowCount() == 5
    assert sheet.list.hasFocus()
    assert "3 values that were read differ; 9 agree" in sheet.told.text()
    QTest.keyClick(sheet.list, Qt.Key.Key_Down)
    assert "A: 0C80h\nB: 0C81h" in sheet._foot.text()
    QTest.keyClick(sheet, Qt.Key.Key_Up, Qt.KeyboardModifier.AltModifier)
    assert page.sheet.isVisible() and not sheet.isVisible()
    page.bar.forget.click()
    assert page.bar.held is None


def test_another_piece_of_the_list_leads_back_to_the_sheet(opened, monkeypatch):
    monkeypatch.setattr(tasks, "compare", lambda *a: DONE)
    page = choose(opened, 0)
    page.bar.act.click()
    page.bar.show_piece(OTHER, "ROM")
    page.bar.act.click()
    opened.settle(lambda: page.differences.done is not None)
    page.list.selectRow(3)
    opened.settle()
    assert page.sheet.isVisible()


def test_it_can_be_stopped_and_a_failure_is_said(opened, monkeypatch):
    begun = threading.Event()

    def slow(context, a, b, stopper):
        begun.set()
        while True:
            stopper.report(1, 10, "comparing bytes")
            threading.Event().wait(0.005)

    monkeypatch.setattr(tasks, "compare", slow)
    page = choose(opened, 0)
    page.bar.act.click()
    page.bar.show_piece(OTHER, "ROM")
    page.bar.act.click()
    assert begun.wait(10)
    sheet = page.differences
    assert sheet.stop.isVisible()
    sheet.stop.click()
    opened.settle(lambda: "Stopped" in sheet.told.text())
    assert not sheet.stop.isVisible()

    def gone(*a):
        raise Stopped("The piece went away.")

    monkeypatch.setattr(tasks, "compare", gone)
    sheet.compare(ROM_SHA, "ROM", OTHER, "ROM")
    opened.settle(lambda: "went away" in sheet.told.text())


def test_rows_say_all_and_nothing_breaks_out():
    rows = rows_of(DONE)
    assert [one.name for one in rows] == [
        "Member b/x.rom", "Device ID, in legacy x86", "A part", "Fault ROM damaged",
        "Bytes at 0006h: device ID, in legacy x86",
    ]  # fmt: skip
    assert (rows[2].a, rows[2].b) == ("not in it", "EFI x86-64")
    assert rows[0].a == "the same bytes, called a/x.rom"
    assert "\x1b" not in made(rows[3]).lower and "\n" not in made(rows[3]).lower
    assert summary(Comparison(True, (), (), A, A)) == "Nothing differs: every byte is the same."


def test_what_could_not_be_compared_is_said():
    said = summary(Comparison(False, (), (), A, B, notes=("B is not sound: \x1b[2J",), members_same=2))
    assert said.startswith("B is not sound") and "\x1b" not in said


def test_two_real_pieces_of_the_shelf_are_compared_in_the_worker(opened, tmp_path):
    """Nothing replaced: two files, by their paths, through the lane and the task."""
    from tests.formats.build_rom import Made, rom

    sides = []
    for number in (0x0102, 0x0203):
        path = tmp_path / f"{number}.rom"
        path.write_bytes(rom(Made(code_revision=number)))
        sides.append(str(path))
    sheet = opened.window.page(0).differences
    sheet.compare(sides[0], "one", sides[1], "other")
    opened.settle(lambda: sheet.done is not None)
    values = {one.name: (one.a, one.b) for one in sheet._items}
    assert values["Code revision, in legacy x86"] == ("258 (102h)", "515 (203h)")
    assert any(one.startswith("Bytes at") and "code revision" in one for one in values)
    assert sheet.list.accessibleName() and sheet.stop.text() == "Stop comparing"


@given(st.text(max_size=50), st.one_of(st.none(), st.booleans(), st.integers(0, 1 << 64), st.text(max_size=200)))
def test_any_value_has_words(name, value):
    one = Comparison(False, (FieldDifference("piece", name, value, None, "a"),), (), A, B)
    row = made(rows_of(one)[0])
    assert "\n" not in row.upper + row.lower
