"""What the pages do with keys, mouse, news and answers that come late or not at all."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent, QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from catalogue.shapes.changes import Changes
from catalogue.shapes.finding import Level
from tests.ui.world import FAULT, KIT, READY, ROM_SHA
from ui import tasks
from ui.session import Open
from ui.text import plain
from ui.widgets.finding_list import FindingList, FindingRow
from ui.window import TEXT_STEPS, apply_text_step, text_step


@pytest.fixture
def opened(world):
    world.window.resize(1366, 768)
    world.window.show()
    world.window.start()
    world.settle(lambda: world.window.page(0).table.rowCount() > 0)
    return world


def asked(world, name):
    return [one[1:] for one in world.asked if one[0] == name]


def test_the_shelf_lists_searches_and_shows_a_piece(opened):
    page = opened.window.page(0)
    assert page.table.rowCount() == 40
    QTest.keyClicks(page.search, "dos")
    opened.settle(lambda: page.table.rowCount() == 10)
    assert page.table.rowCount() == 10
    assert asked(opened, "shelf_ids")[-1] == ("dos",)
    page.search.clear()
    opened.settle(lambda: page.table.rowCount() == 40)
    page.list.setFocus()
    QTest.keyClick(page.list, Qt.Key.Key_Down)
    opened.settle(lambda: page.sheet.detail is not None)
    assert page.sheet.ruler.spans[0].name == "Image 1, legacy x86"


def test_keys_walk_from_byte_to_byte_and_from_line_to_line(opened):
    sheet = opened.window.page(0).sheet
    opened.window.page(0).open(Open("Shelf", piece=ROM_SHA, offset=0x21))
    opened.settle(lambda: sheet.detail is not None)
    names = []
    for _ in range(3):
        names.append(sheet.view.lines.lines[sheet.view.currentIndex().row()].name)
        QTest.keyClick(sheet.view, Qt.Key.Key_Right)
    assert names == ["vendor ID", "device ID", "device ID"]
    sheet.seek.setText("7FFh")
    QTest.keyClick(sheet.seek, Qt.Key.Key_Return)
    assert sheet.view.lines.chosen == 0x7FF
    assert sheet.view.hasFocus()
    sheet.seek.setText("800")
    QTest.keyClick(sheet.seek, Qt.Key.Key_Return)
    assert "ends at 0800h" in opened.window.says.text
    sheet.seek.setText("zebra")
    QTest.keyClick(sheet.seek, Qt.Key.Key_Return)
    assert "written in hex" in opened.window.says.text


def test_a_failure_is_one_sentence_and_the_window_goes_on(opened):
    opened.failing = True
    opened.session.hand_round(Changes(pieces=True))
    opened.settle(lambda: FAULT in opened.window.says.text)
    opened.failing = False
    opened.session.hand_round(Changes(pieces=True))
    assert opened.settle(lambda: opened.window.page(0).table.rowCount() == 40)


def test_news_go_round_once_and_reach_only_whom_they_concern(opened):
    opened.settle()
    opened.window.open_page(1)
    opened.settle()
    opened.asked.clear()
    opened.session.hand_round(Changes())
    opened.session.hand_round(Changes(media=True))
    opened.settle()
    assert not asked(opened, "shelf_ids")
    assert not asked(opened, "families")
    opened.session.hand_round(Changes(families=True))
    opened.settle()
    assert len(asked(opened, "families")) == 1
    assert len(asked(opened, "shelf_state")) == 1


@pytest.mark.parametrize(
    ("scanned", "page", "words"),
    [
        ("RAID controller [f234:0c80]", "Kits", "Read as a card that shows itself: F234:0C80 is its RAID mode"),
        ("nothing like a card", "Shelf", "No family answers"),
        (ROM_SHA[:16], "Shelf", "Read as the beginning of a hash"),
    ],
)
def test_the_scan_box_opens_what_was_meant(opened, scanned, page, words):
    scan = opened.window.scan
    scan.edit.setText(scanned)
    QTest.keyClick(scan.edit, Qt.Key.Key_Return)
    opened.settle(lambda: words in opened.window.says.text)
    assert words in opened.window.says.text
    assert opened.window.stack.currentWidget() is opened.window.page(opened.window.page_called(page))


def test_a_dump_of_many_lines_is_pasted_whole(opened):
    dump = "00: 34 f2 80 0c 00 00 00 00\n10: 00 00 00 00 00 00 00 00\n"
    QGuiApplication.clipboard().setText(dump)
    edit = opened.window.scan.edit
    edit.clear()
    QTest.keyClick(edit, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    assert edit.whole_text() == dump
    QTest.keyClicks(edit, "x")
    assert "\n" not in edit.whole_text()


def test_what_is_dropped_is_indexed(opened, tmp_path, monkeypatch):
    ran = []
    monkeypatch.setattr(opened.session, "run", lambda what, command, *a: ran.append(command))
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(tmp_path)), QUrl("https://example.invalid/x")])
    action, button = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton
    drop = QDropEvent(QPointF(5, 5), action, data, button, Qt.KeyboardModifier.NoModifier)
    opened.window.dropEvent(drop)
    assert ran == [["index", "--json", str(tmp_path)]]


def test_one_job_at_a_time(opened, monkeypatch):
    monkeypatch.setattr(type(opened.session), "job", property(lambda self: object()))
    opened.session._run = object()
    try:
        assert not opened.session.run("x", ["index"], lambda *a: None, Changes())
        assert "Another job is running" in opened.window.says.text
    finally:
        opened.session._run = None


def test_kits_take_the_route_that_leaves_the_mode_the_card_is_in(opened, monkeypatch):
    routes = (
        tasks.RouteInfo("pass-to-raid-dos", "pass", "raid", "dos"),
        tasks.RouteInfo("raid-to-pass-dos", "raid", "pass", "dos"),
    )
    monkeypatch.setattr(tasks, "routes", lambda context, family: routes)
    opened.window._open(Open("Kits", family="corvane-bittern", mode="raid"))
    kits = opened.window.page(1)
    opened.settle(lambda: kits.kit is not None)
    assert kits.route == "raid-to-pass-dos"


def test_a_late_kit_of_another_family_is_not_shown(opened):
    opened.window.open_page(1)
    kits = opened.window.page(1)
    opened.settle(lambda: kits.list.rows.rowCount() > 0)
    kits.list.stand_on("corvane-bittern")
    opened.settle(lambda: kits.kit is not None)
    kits._judged((replace(KIT, family="another"), {}, []))
    assert kits.kit.family == "corvane-bittern"


def test_a_ready_kit_goes_to_media_with_its_names(opened, tmp_path, monkeypatch):
    opened.kit = READY
    opened.window._open(Open("Kits", family="corvane-bittern", mode="raid"))
    kits = opened.window.page(1)
    opened.settle(lambda: kits.kit is not None)
    kits.view.foot.write.click()
    media = opened.window.page(2)
    ran = []
    monkeypatch.setattr(opened.session, "run", lambda what, command, *a: ran.append(command))
    media.use_folder(str(tmp_path))
    opened.settle()
    media.view.write.click()
    assert ran == [
        ["write-out", "--json", "--kit", READY.id, "--route", "raid-to-pass-dos", "corvane-bittern", str(tmp_path)]
    ]


@pytest.mark.parametrize(
    ("answer", "code", "words"),
    [
        ({"files": [], "findings": [], "judged": {"verdict": "not-ready"}}, 1, "Nothing was written. Judged again"),
        ({"files": [{}, {}], "findings": [], "read_back": "same", "folder": "/s/BITT-7F3"}, 0, "Written to BITT-7F3"),
        ({"files": [{}], "findings": [], "read_back": "differs"}, 1, "do not use this medium"),
        ({"files": [{}], "findings": [{"code": 1}]}, 0, "cannot be read"),
        ([], 0, "cannot be read"),
    ],
)
def test_every_answer_of_a_write_out_is_put_into_words(opened, tmp_path, answer, code, words):
    opened.window.open_page(2)
    media = opened.window.page(2)
    media.use_folder(str(tmp_path))
    opened.settle()
    media._written(str(tmp_path), answer, code)
    assert words in media.view.outcome


def test_names_from_files_are_shown_not_obeyed(opened):
    page = opened.window.page(0)
    page.open(Open("Shelf", piece=ROM_SHA))
    opened.settle(lambda: page.sheet.detail is not None)
    shown = " ".join(line.meaning for line in page.sheet.view.lines.lines)
    assert "\u202e" not in shown
    assert plain("\u202e") in shown


def test_the_keys_are_told_in_words(opened):
    opened.window.activateWindow()
    opened.settle(opened.window.isActiveWindow)
    QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_F1)
    from ui.widgets.keys import Keys

    sheet = opened.window.findChild(Keys)
    assert sheet is not None
    assert sheet.isVisible()
    sheet.accept()


def test_down_goes_from_the_search_to_the_list_and_old_words_go_away(opened):
    page = opened.window.page(0)
    opened.window.activateWindow()
    page.search.setFocus()
    QTest.keyClicks(page.search, "zzz")
    opened.settle(lambda: page.table.rowCount() == 0)
    assert "Nothing on the shelf" in page.sheet._empty.text()
    page.search.setText("dos")
    opened.settle(lambda: page.table.rowCount() == 10)
    assert "Nothing on the shelf" not in page.sheet._empty.text()
    QTest.keyClick(page.search, Qt.Key.Key_Down)
    opened.settle(lambda: page.sheet.detail is not None)
    assert page.list.hasFocus()
    assert page.list.currentIndex().row() == 0


@pytest.mark.parametrize(("size", "step"), [((1024, 640), 1.5), ((1366, 768), 1.0)])
def test_the_verdict_keeps_room_beside_or_above_its_buttons(opened, size, step):
    apply_text_step(TEXT_STEPS.index(step))
    opened.window.resize(*size)
    try:
        opened.window.open_page(1)
        page = opened.window.page(1)
        page.open(Open("Kits", family=KIT.family))
        opened.settle(lambda: page.kit is not None)
        opened.settle()
        words = page.view.foot._verdict.words
        assert words.height() >= words.heightForWidth(words.width())
        assert words.width() > words.fontMetrics().horizontalAdvance("This kit is not ready: 2 stops")
    finally:
        apply_text_step(TEXT_STEPS.index(1.0))


def test_the_window_fits_the_screen_when_it_is_first_opened(world):
    room = world.window.screen().availableSize()
    assert world.window.width() <= room.width()
    assert world.window.height() <= room.height()


@pytest.mark.parametrize(("kept", "step"), [("abc", 2), ("", 2), ("-1", 2), ("4", 4)])
def test_a_spoilt_text_size_in_the_settings_is_the_systems_own(world, kept, step):
    world.session.settings.setValue("text/step", kept)
    assert text_step(world.session.settings) == step


def test_a_target_that_is_gone_is_said(opened, tmp_path):
    stick = tmp_path / "stick"
    stick.mkdir()
    opened.window.open_page(2)
    page = opened.window.page(2)
    page.use_folder(str(stick))
    opened.settle(lambda: page.target is not None)
    stick.rmdir()
    page._look()
    opened.settle(lambda: "no longer there" in opened.window.says.text)
    assert opened.window.says.text == "stick is no longer there."


def test_many_findings_are_laid_out_a_portion_at_a_time(opened):
    found = FindingList(opened.window)
    level = (Level.NOTE, Level.STOP)
    found.show_findings([replace(KIT.findings[0], code=f"code-{at}", level=level[at % 2]) for at in range(40)])
    rows = [len(found.findChildren(FindingRow))]
    while found._more is not None:
        QTest.mouseClick(found._more, Qt.MouseButton.LeftButton)
        rows.append(len(found.findChildren(FindingRow)))
    assert rows == [15, 30, 40]
    assert [one.finding for one in found.findChildren(FindingRow)] == found.findings
    assert found.findings[0].level is Level.STOP


def test_without_a_family_it_says_where_one_goes(opened):
    page = opened.window.page(1)
    page._looked([])
    assert str(tasks.families_folder()) in page._empty.text()
