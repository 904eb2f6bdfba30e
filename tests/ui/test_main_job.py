"""The main job as a person does it: index, find the family, read the findings, write out, read back."""

import subprocess
from pathlib import Path

import pytest
from PySide6.QtCore import QSettings, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog, QPushButton, QScrollArea

import resources
from catalogue.shapes.finding import Level
from catalogue.tasks.context import Context
from sample_bundles.make import make
from ui.session import Open, Session
from ui.widgets.basics import Button
from ui.widgets.finding_list import FindingRow
from ui.widgets.role_rows import RoleRow
from ui.widgets.say_so import SaySo
from ui.window import Window

LONG = 90_000
LINE = "03:00.0 RAID bus controller [0104]: Corvane Bittern [f234:0c80] (rev 02)"


@pytest.fixture
def window(tmp_path, qtbot, monkeypatch):
    monkeypatch.setenv("HOME", str(tmp_path))
    settings = QSettings(str(tmp_path / "window.ini"), QSettings.Format.IniFormat)
    made = Window(Session(Context(str(tmp_path / "catalogue.db")), settings))
    made.resize(1366, 800)
    made.show()
    made.start()
    yield made
    made.close()


def press(widget):
    """Bring a button into view, as a person would, and press it."""
    assert widget.isEnabled(), widget.accessibleName()
    QApplication.processEvents()
    above = widget.parentWidget()
    while above is not None:
        if isinstance(above, QScrollArea):
            above.ensureWidgetVisible(widget)
            QApplication.processEvents()
        above = above.parentWidget()
    QTest.mouseClick(widget, Qt.MouseButton.LeftButton)


def keys(window, key):
    """Ctrl and a key, wherever the keyboard is now."""
    window.activateWindow()
    for _ in range(100):
        if window.isActiveWindow():
            break
        QTest.qWait(10)
    QTest.keyClick(QApplication.focusWidget() or window, key, Qt.KeyboardModifier.ControlModifier)


def button(within, words):
    return next(one for one in within.findChildren(QPushButton) if one.text() == words and not one.isHidden())


def test_index_family_findings_write_out_read_back(window, tmp_path, qtbot, monkeypatch):
    downloads, stick = tmp_path / "downloads", tmp_path / "stick"
    made = make(downloads)
    stick.mkdir()
    shelf = window.page(0)

    # A new user is told what to do, and adds a folder from there.
    qtbot.waitUntil(shelf.welcome.isVisible, timeout=LONG)
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *a, **k: str(downloads))
    press(shelf.welcome.add)
    qtbot.waitUntil(lambda: window.session.job is None and shelf.table.rowCount() > 0, timeout=LONG)
    assert "could not be read" in window.says.text  # the truncated download, named

    # Search as you type, choose a piece, press one of its bytes: its line is found.
    QTest.keyClicks(shelf.search, "F234:0C81")
    qtbot.waitUntil(lambda: 0 < shelf.table.rowCount() < 20 and shelf.table.row(0) is not None, timeout=LONG)
    shelf.list.selectRow(0)
    qtbot.waitUntil(lambda: shelf.sheet.detail is not None, timeout=LONG)
    view = shelf.sheet.view
    row = next(at for at, line in enumerate(view.lines.lines) if line.name == "device ID" and line.has_bytes)
    at = view.lines.lines[row].offset
    view.scrollTo(view.lines.index(row))
    QTest.mouseClick(view.viewport(), Qt.MouseButton.LeftButton, pos=view.byte_point(row, at + 1))
    assert view.currentIndex().row() == row
    assert view.lines.chosen == at + 1

    # Paste how the card shows itself; the family opens with the route that leaves that mode.
    QGuiApplication.clipboard().setText(LINE)
    window.scan.edit.setFocus()
    QTest.keyClick(window.scan.edit, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    QTest.keyClick(window.scan.edit, Qt.Key.Key_Return)
    kits = window.page(1)
    qtbot.waitUntil(lambda: kits.kit is not None, timeout=LONG)
    assert (kits.kit.family, kits.kit.verdict) == ("corvane-bittern", "ready")
    assert kits.view.foot.verdict.startswith("This kit is ready, never run")
    ready = kits.kit.id

    # Pin a tempting wrong piece: it is refused, and the findings say how we know.
    wrong = made.find("corvane-bittern", "legacy-boot-rom", good=False, tempts="other-mode")
    role = next(one for one in kits.view.findChildren(RoleRow) if one.choice.role == "legacy-boot-rom")
    press(button(role, text_of_others(role)))
    number = [other.piece for other in role.choice.others].index(wrong.sha256)
    press([one for one in role.findChildren(Button) if one.text() == "Pin it"][number])
    form = kits.findChild(SaySo)
    assert not form.do.isEnabled()
    QTest.keyClicks(form.reason, "it lay on top")
    QTest.keyClicks(form.by, "Mara Quill")
    press(form.do)
    qtbot.waitUntil(lambda: kits.kit is not None and kits.kit.id != ready, timeout=LONG)
    assert kits.kit.verdict == "not-ready"
    stops = {one.code for one in kits.kit.findings if one.level is Level.STOP}
    assert "other-mode" in stops
    assert kits.view.foot.write.isHidden()
    found = next(one for one in kits.view.findChildren(FindingRow) if one.finding.code == "other-mode")
    press(button(found, "Show the bytes"))
    evidence = next(one for one in found.finding.evidence if one.offset is not None)
    qtbot.waitUntil(
        lambda: shelf.sheet.detail is not None and shelf.sheet.detail.info.sha256 == wrong.sha256, timeout=LONG
    )
    assert shelf.isVisible()
    assert view.lines.chosen == evidence.offset

    # Take the pin away: ready again, the same kit. Write it out.
    keys(window, Qt.Key.Key_2)
    assert kits.isVisible()  # at once
    press(button(kits.view, "Unpin"))
    qtbot.waitUntil(lambda: kits.kit is not None and kits.kit.id == ready and kits.view.foot.isVisible(), timeout=LONG)
    press(kits.view.foot.write)
    media = window.page(2)
    assert media.isVisible()
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *a, **k: str(stick))
    press(media.other)
    qtbot.waitUntil(media.view.write.isEnabled, timeout=LONG)
    keys(window, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: bool(media.view.outcome), timeout=LONG)
    assert "every byte" in media.view.outcome
    folder = next(one for one in stick.iterdir() if one.is_dir())
    done = subprocess.run(["sha256sum", "-c", "SHA256.SUM"], cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout  # coreutils, an outside reader, agrees

    # Read back: the same. Then a bit turns over on the stick: it is named.
    press(media.view.read_back)
    qtbot.waitUntil(lambda: media.view.outcome.startswith("Read back: every byte is the same"), timeout=LONG)
    victim = next(one for one in folder.iterdir() if one.suffix == ".ROM")
    data = bytearray(victim.read_bytes())
    data[100] ^= 1
    victim.write_bytes(data)
    press(media.view.read_back)
    qtbot.waitUntil(lambda: "do not use it" in media.view.outcome, timeout=LONG)
    assert any(one.code == "read-back-differs" for one in media.view.findings.findings)


def text_of_others(role):
    number = len(role.choice.others)
    return f"{number} other" + ("" if number == 1 else "s")


def test_the_demo_is_one_press_away(window, tmp_path, qtbot):
    shelf = window.page(0)
    qtbot.waitUntil(shelf.welcome.isVisible, timeout=LONG)
    press(shelf.welcome.demo)
    assert window.jobs.isVisible()
    qtbot.waitUntil(lambda: window.session.job is None, timeout=LONG)
    assert "The demo is made" in window.says.text
    qtbot.waitUntil(lambda: shelf.table.rowCount() > 0, timeout=LONG)
    assert not shelf.welcome.isVisible()


@pytest.fixture
def indexed(window, tmp_path, qtbot):
    """The window with the demo's bundles on its shelf."""
    make(tmp_path / "downloads")
    shelf = window.page(0)
    qtbot.waitUntil(shelf.welcome.isVisible, timeout=LONG)
    shelf.index([str(tmp_path / "downloads")])
    qtbot.waitUntil(lambda: window.session.job is None and shelf.table.rowCount() > 0, timeout=LONG)
    return window


def test_a_persons_word_clears_its_own_finding(indexed, qtbot):
    kits = indexed.page(1)
    indexed.open_page(1)
    kits.open(Open("Kits", family="corvane-bittern", mode="raid"))
    qtbot.waitUntil(lambda: kits.kit is not None, timeout=LONG)
    role, piece = next(
        (role.role, other.piece) for role in kits.kit.roles for other in role.others if other.why == ("unvouched",)
    )
    before = kits.kit.id
    kits._pin(role, piece)
    form = kits.findChild(SaySo)
    QTest.keyClicks(form.reason, "the bench needs it")
    QTest.keyClicks(form.by, "Mara Quill")
    press(form.do)
    qtbot.waitUntil(lambda: kits.kit.id != before, timeout=LONG)
    clearable = [one for one in kits.kit.findings if one.clearable and one.level is Level.STOP]
    assert [(one.code, one.piece) for one in clearable] == [("unvouched", piece)]
    assert "1 of them a person's word can clear" in kits.view.foot.verdict
    before = kits.kit.id
    row = next(one for one in kits.view.findChildren(FindingRow) if one.finding is clearable[0])
    press(button(row, "Give your word"))
    form = next(one for one in kits.findChildren(SaySo) if one.isVisible())
    assert form.by.text() == "Mara Quill"  # as it was given before
    assert not form.do.isEnabled()
    QTest.keyClicks(form.reason, "compared by eye with the maker's page")
    press(form.do)
    qtbot.waitUntil(lambda: kits.kit.id != before, timeout=LONG)
    cleared = [one for one in kits.kit.findings if one.cleared_by is not None]
    assert [(one.code, one.piece, one.cleared_by.by) for one in cleared] == [("unvouched", piece, "Mara Quill")]
    assert not [one for one in kits.kit.findings if one.code == "unvouched" and one.level is Level.STOP]


def test_an_unsettled_family_file_is_accepted(tmp_path, qtbot, monkeypatch):
    monkeypatch.setenv("HOME", str(tmp_path))
    folder = tmp_path / "families"
    folder.mkdir()
    shipped = Path(resources.__file__).parent / "families" / "corvane-heron.toml"
    text = shipped.read_text().replace("corvane-heron", "own-heron").replace("Corvane Heron", "Our Heron")
    (folder / "own-heron.toml").write_text(text)
    (folder / "broken.toml").write_text('schema = 1\nid = "broken"\ntitle = "Broken"\nno_such_key = 1\n')
    context = Context(str(tmp_path / "catalogue.db"), (folder,))
    window = Window(Session(context, QSettings(str(tmp_path / "w.ini"), QSettings.Format.IniFormat)))
    try:
        window.show()
        window.start()
        window.open_page(1)
        kits = window.page(1)
        qtbot.waitUntil(lambda: kits.list.rows.rowCount() > 0, timeout=LONG)
        kits.list.stand_on("own-heron")
        qtbot.waitUntil(lambda: kits.kit is not None, timeout=LONG)
        assert "family-unsettled" in {one.code for one in kits.kit.findings}
        assert kits.view.accept.isVisible()
        press(kits.view.accept)
        qtbot.waitUntil(lambda: "settled" in window.says.text, timeout=LONG)
        qtbot.waitUntil(lambda: kits.kit is not None and "family-unsettled" not in codes(kits), timeout=LONG)
        assert not kits.view.accept.isVisible()
        kits.list.stand_on("broken")
        qtbot.waitUntil(lambda: "broken.toml, line 4" in kits.view.unsettled, timeout=LONG)
        assert not kits.view.accept.isEnabled()
    finally:
        window.close()


def codes(kits):
    return {one.code for one in kits.kit.findings}
