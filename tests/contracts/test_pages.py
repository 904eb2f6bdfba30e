"""Every page of the window's table through one battery: empty, full, mid-job and failing, light and dark."""

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import sys
import threading
import time
from pathlib import Path

import pytest

pytest.importorskip("PySide6.QtWidgets", reason="the system's graphics libraries are missing", exc_type=ImportError)

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QAccessible
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QAbstractItemView, QApplication, QHeaderView, QLabel, QWidget

import ui.pages
from catalogue.shapes.changes import Changes
from tests.ui.world import FAULT, make_world
from ui import jobs, tasks
from ui.pages import PAGES
from ui.session import Open
from ui.widgets.basics import Words

pytestmark = [pytest.mark.qt_log_level_fail("WARNING"), pytest.mark.qt_log_ignore("propagateSizeHints")]

STATES = ("empty", "full", "mid-job", "failing")
SLEEPER = """
import sys
print('{"done": 2, "total": 9, "what": "x"}', file=sys.stderr, flush=True)
sys.stdin.readline()
"""
ALL = Changes(pieces=True, families=True, vouching=True, words=True, media=True)


@pytest.fixture
def opened(request, tmp_path, monkeypatch, qapp):
    """A window with one page open in one state."""
    title, state, dark = request.param
    world = make_world(tmp_path, monkeypatch, qapp, dark=dark, pieces=0 if state == "empty" else 300)
    monkeypatch.setattr(jobs, "own_command", lambda options: (sys.executable, ["-c", SLEEPER]))
    if state == "empty":
        world.families = []
    world.failing = state == "failing"
    window = world.window
    window.resize(1366, 768)
    window.show()
    window.start()
    at = window.page_called(title)
    window.open_page(at)
    world.settle()
    if state in ("full", "mid-job"):
        fill(world, title, tmp_path)
    if state == "mid-job":
        begin_jobs(world, title, monkeypatch)
    QApplication.processEvents()
    yield world, window.page(at), state
    world.close()


def fill(world, title, tmp_path):
    window = world.window
    page = window.page(window.page_called(title))
    if title == "Shelf":
        page.list.selectRow(0)
        world.settle(lambda: page.sheet.detail is not None)
        page.sheet.go_to(0x22)
    elif title == "Kits":
        page.open(Open("Kits", family="corvane-bittern", mode="raid"))
        world.settle(lambda: page.kit is not None)
    elif title == "Media":
        (tmp_path / "stick" / "BITT-7F3").mkdir(parents=True)
        (tmp_path / "stick" / "BITT-7F3" / "KIT.JSN").write_text("{}")
        page.open(Open("Media", kit=world.kit))
        page.use_folder(str(tmp_path / "stick"))
        world.settle()
        page.read_back()
        world.settle(lambda: bool(page.view.outcome))


def begin_jobs(world, title, monkeypatch):
    assert world.session.run("A long job", ["index"], lambda *a: None, Changes())
    world.settle(world.window.jobs.isVisible)
    if title == "Kits":

        def slow(context, family, route, pins, progress, *rest, **more):
            while True:
                progress.report(1, 3, "a piece")
                time.sleep(0.005)

        monkeypatch.setattr(tasks, "kit", slow)
        world.window.page(world.window.page_called("Kits")).refresh(ALL)
        QTest.qWait(50)


def each():
    return [
        pytest.param((page.title, state, dark), id=f"{page.title}-{state}-{'dark' if dark else 'light'}")
        for page in PAGES
        for state in STATES
        for dark in (False, True)
    ]


def focusable(window):
    """Every control that the keyboard must reach: seen, enabled, and open to Tab."""
    return [
        one
        for one in window.findChildren(QWidget)
        if one.isVisible()
        and one.isEnabled()
        and one.window() is window
        and one.focusPolicy().value & Qt.FocusPolicy.TabFocus.value
        and one.focusProxy() is None
        and not by_arrows(one)
    ]


def by_arrows(one):
    """Of several ways of which one is taken, Tab comes to that one and the arrows go to the others."""
    group = one.group() if isinstance(one, QAbstractButton) else None
    return group is not None and group.exclusive() and not one.isChecked()


def test_the_table_has_a_row_for_every_file():
    folder = Path(ui.pages.__file__).parent
    files = {one.stem for one in folder.glob("*.py")} - {"__init__", "page"}
    assert files == {page.title.lower() for page in PAGES}
    assert len({page.title for page in PAGES}) == len(PAGES)


@pytest.mark.parametrize("opened", each(), indirect=True)
def test_a_page_in_a_state(opened):
    """Painted; every control named; all reached by Tab; no text taken for markup; every kind of news taken."""
    world, _page, state = opened
    window = world.window
    assert_painted(window)
    if state == "failing":
        assert FAULT in window.says.text
    assert nameless(window) == []
    assert missed_by_tab(window) == set()
    assert [one.text() for one in window.findChildren(QLabel) if one.textFormat() != Qt.TextFormat.PlainText] == []
    world.session.hand_round(ALL)
    world.settle(most_ms=300)
    assert "fault of the program" not in window.says.text
    assert_painted(window)


def assert_painted(window):
    picture = window.grab().toImage()
    colours = {picture.pixel(x, y) for x in range(0, picture.width(), 7) for y in range(0, picture.height(), 7)}
    assert len(colours) > 4


def nameless(window):
    """Controls that a reading aid could not name, or to which it could give no role."""
    found = []
    for one in focusable(window):
        heard = QAccessible.queryAccessibleInterface(one)
        assert heard is not None, one
        if not heard.text(QAccessible.Text.Name).strip() or heard.role() == QAccessible.Role.NoRole:
            found.append((type(one).__name__, heard.role()))
    return found


def missed_by_tab(window):
    """Controls that a walk by Tab through the whole window does not come to."""
    window.activateWindow()
    window.scan.edit.setFocus()
    QApplication.processEvents()
    wanted = set(focusable(window))
    reached = set()
    for _ in range(len(wanted) * 2 + 10):
        now = QApplication.focusWidget()
        assert now is not None
        reached.add(now)
        QTest.keyClick(now, Qt.Key.Key_Tab)
    return {describe(one) for one in wanted - reached}


def describe(one):
    return (type(one).__name__, one.accessibleName(), type(one.parent()).__name__)


@pytest.mark.parametrize("opened", each(), indirect=True)
def test_nothing_is_left_when_the_window_closes(opened):
    world, _page, state = opened
    before = [one for one in threading.enumerate() if one.name.startswith("kitproof")]
    assert before or state == "empty"
    world.window.close()
    assert [one for one in threading.enumerate() if one.name.startswith("kitproof")] == []
    assert world.session.job is None
    running = [one for one in world.window.findChildren(QTimer) if one.isActive() and not one.isSingleShot()]
    assert running == []


@pytest.mark.parametrize("opened", [one for one in each() if "full-light" in one.id], indirect=True)
def test_a_page_stands_larger_text(opened, qapp):
    world, _page, _state = opened
    font = qapp.font()
    try:
        for _ in range(6):
            world.window.scale_text(1)
        QApplication.processEvents()
        assert qapp.font().pointSizeF() == pytest.approx(font.pointSizeF() * 2)
        assert not world.window.grab().isNull()
        for one in world.window.findChildren(Words):
            assert not one.isVisible() or one.font().pointSizeF() >= qapp.font().pointSizeF() * 0.85, one.text()
        for one in world.window.findChildren(QAbstractItemView):
            if not isinstance(one, QHeaderView) and one.isVisible() and one.model().rowCount():
                row = one.visualRect(one.model().index(0, 0)).height()
                assert row >= one.fontMetrics().height()
    finally:
        world.window.scale_text(0)
        QApplication.processEvents()
    assert qapp.font().pointSizeF() == font.pointSizeF()
