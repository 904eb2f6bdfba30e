"""Drafting in the window: given, read, asked, checked, kept; by keyboard, with names, and nothing taken for markup."""

import json
import sys
import tomllib
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog, QLabel

from catalogue.families import drafting
from catalogue.shapes.as_json import as_text
from catalogue.shapes.changes import Changes
from catalogue.shapes.draft import Counter, Proof, ProvedRoute
from catalogue.shapes.results import Accepted, FileProblem
from tests.contracts.test_pages import focusable, missed_by_tab, nameless
from tests.families.drafting.test_answers import LISTING, LOG, PIECES
from ui import jobs, look, tasks
from ui.widgets.draft_view import ASKED, CHECK, GIVEN, READ

DRAFT = drafting.draft(drafting.Given("<b>folder</b>", PIECES, (LISTING, LOG), date(2026, 3, 2), root="/f"))
GOOD = Accepted("mine", "a" * 64, settled=False, proof=Proof(
    "/f", (ProvedRoute("log-dos", "ready"),),
    (Counter("log-dos", "legacy-boot-rom", "b" * 64, "/f/<i>B</i>.ROM", "the other mode's ROM", ("other-mode",)),),
))  # fmt: skip
BAD = Accepted("mine", "a" * 64, settled=False, problems=(
    FileProblem("d", 9, "asks: \"flash\" is still open; answer it"), FileProblem("d", 12, "a draft <b>that</b>")),
    proof=Proof("/f", (ProvedRoute("log-dos", "not-ready", ("firmware: none (role-empty)",)),),
                (Counter("log-dos", "legacy-boot-rom", "b" * 64, "/f/B.ROM", "the other mode's ROM", ()),),
                ("route log-dos: nothing here tells the modes apart",)))  # fmt: skip


@pytest.fixture
def opened(world):
    """The page with the draft view open, and the view."""
    window = world.window
    window.resize(1024, 768)
    window.show()
    window.start()
    at = window.page_called("Kits")
    window.open_page(at)
    world.settle()
    page = window.page(at)
    QTest.mouseClick(page.draft, Qt.MouseButton.LeftButton)
    world.settle()
    return page, page.drafting


@pytest.fixture
def drafted(opened, world):
    page, view = opened
    view._drafted(json.loads(as_text(DRAFT)), 0)
    world.settle(lambda: bool(view.text))
    return page, view


def sound(world, view):
    """Every control named and reached by Tab, every text plain."""
    assert nameless(world.window) == []
    assert missed_by_tab(world.window) == set()
    assert [one.text() for one in view.findChildren(QLabel) if one.textFormat() != Qt.TextFormat.PlainText] == []


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("at", [GIVEN, READ, ASKED, CHECK])
def test_each_stand_is_named_and_reached_by_keyboard(drafted, world, qapp, at, dark):
    _page, view = drafted
    qapp.setPalette(look.palette(look.DARK if dark else look.LIGHT))
    view.go_to(at)
    QApplication.processEvents()
    sound(world, view)
    assert not view.grab().isNull()


def test_every_form_of_question_is_named_and_reached(drafted, world):
    _page, view = drafted
    view.go_to(ASKED)
    seen = set()
    for one in view.asked.questions:
        if one.form in seen:
            continue
        seen.add(one.form)
        view.asked.list.stand_on(one.key)
        QApplication.processEvents()
        sound(world, view)
        view.asked.form.to_form()
        if one.form != "confirm":
            assert view.asked.form.isAncestorOf(QApplication.focusWidget())
    assert seen >= {"line", "choice", "choices", "rows", "confirm", "effects"}


def test_nothing_is_drafted_from_nothing_and_pasted_text_goes_along(opened, world, tmp_path, monkeypatch):
    _page, view = opened
    assert not view.given.do.isEnabled()
    folder = tmp_path / "good"
    folder.mkdir()
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(folder))
    QTest.mouseClick(view.given.choose, Qt.MouseButton.LeftButton)
    view.given.paste.setPlainText("Berth \u2026 1\nQuay address 5F23401000001A40")
    QTest.mouseClick(view.given.take, Qt.MouseButton.LeftButton)
    (pasted,) = view.given.files
    assert pasted.read_text(encoding="utf-8").startswith("Berth \u2026 1\n")
    commands = []
    view.given.wanted.connect(commands.append)
    monkeypatch.setattr(world.session, "run", lambda what, command, *rest: True)
    QTest.keyClick(view, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert commands == [["draft-family", str(folder), "--identity", str(pasted), "--json"]]
    view.given.close_files()
    assert not pasted.exists()


@pytest.mark.parametrize(("said", "command"), [
    ("abcdef0123 0123456789", ["--piece", "abcdef0123", "--piece", "0123456789"]), ("/no/such", None), ("xyz", None),
])  # fmt: skip
def test_hashes_in_place_of_a_folder(opened, world, monkeypatch, said, command):
    _page, view = opened
    commands = []
    view.given.wanted.connect(commands.append)
    monkeypatch.setattr(world.session, "run", lambda *_: True)
    view.given.folder.setText(said)
    QTest.mouseClick(view.given.do, Qt.MouseButton.LeftButton)
    assert commands == ([["draft-family", *command, "--json"]] if command else [])
    assert view.given.wrong.isHidden() is bool(command)


def test_the_job_runs_in_a_process_and_can_fail(opened, world, tmp_path, monkeypatch):
    _page, view = opened
    monkeypatch.setattr(jobs, "own_command", lambda options: (sys.executable, ["-c", "raise SystemExit(2)"]))
    view.given.folder.setText(str(tmp_path))
    QTest.mouseClick(view.given.do, Qt.MouseButton.LeftButton)
    assert world.settle(lambda: world.session.job is None)
    assert view.given.do.isEnabled()
    assert not view.text


def test_a_line_that_was_read_opens_its_bytes(drafted, world):
    _page, view = drafted
    assert view.stands[READ].isChecked()
    wanted = []
    world.session.wanted.connect(wanted.append)
    (one,) = [one for one in DRAFT.inferred if one.text == 'ids = ["F234:0C81"]']
    view.read.list.stand_on(str(one.line))
    assert one.source in view.read.chosen.text()
    QTest.mouseClick(view.read.show_bytes, Qt.MouseButton.LeftButton)
    assert (wanted[0].piece, wanted[0].offset) == ("a" * 64, 28)


def test_the_folder_is_put_on_the_shelf(opened, world, monkeypatch, tmp_path):
    _page, view = opened
    commands = []
    monkeypatch.setattr(world.session, "run", lambda what, command, *rest: commands.append(command) or True)
    view.given.folder.setText(str(tmp_path))
    QTest.mouseClick(view.given.do, Qt.MouseButton.LeftButton)
    view._drafted(json.loads(as_text(DRAFT)), 0)
    world.settle(lambda: bool(view.text))
    QTest.mouseClick(view.read.index, Qt.MouseButton.LeftButton)
    assert commands[-1] == ["index", "--json", str(tmp_path)]


def answer(world, view, key, fill):
    view.asked.list.stand_on(key)
    fill(view.asked.form)
    before = view.text
    QTest.keyClick(view.asked, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    world.settle(lambda: view.text != before or view.asked.form.wrong.isVisible())
    return before


def test_questions_are_answered_one_by_one_and_taken_back(drafted, world):
    _page, view = drafted
    view.go_to(ASKED)
    open_ = len(view.asked.questions)

    def type_in(words):
        return lambda form: QTest.keyClicks(form._first, words)

    before = answer(world, view, "flash", type_in("much"))
    assert view.text == before
    assert "whole number" in view.asked.form.wrong.words.text()
    view.asked.form._first.clear()
    answer(world, view, "flash", type_in("8388608"))
    assert tomllib.loads(view.text)["card"]["flash"] == 8_388_608
    assert "flash = 8388608" in view.asked.written.words.text()
    assert len(view.asked.questions) == open_ - 1
    assert view.stands[ASKED].text() == f"Asked, {open_ - 1} open"
    QTest.mouseClick(view.asked.back, Qt.MouseButton.LeftButton)
    world.settle(lambda: view.text == before)
    assert view.text == before
    assert len(view.asked.questions) == open_


def test_what_is_not_known_is_left_out_or_passed_over(drafted, world):
    _page, view = drafted
    view.go_to(ASKED)
    before = view.text
    view.asked.list.stand_on("direction")
    QTest.mouseClick(view.asked.form.unknown, Qt.MouseButton.LeftButton)
    world.settle()
    assert view.text == before
    assert view.asked.list.key != "direction"
    view.asked.list.stand_on("flash")
    QTest.mouseClick(view.asked.form.unknown, Qt.MouseButton.LeftButton)
    assert world.settle(lambda: view.text != before)
    assert "flash" not in tomllib.loads(view.text)["asks"]
    assert "flash" not in tomllib.loads(view.text)["card"]


def test_the_effects_of_a_line_are_ticked(drafted, world):
    _page, view = drafted
    view.go_to(ASKED)

    def fill(form):
        QTest.keyClicks(form._first, "List.")
        for one in form._form.findChildren(object):
            if getattr(one, "accessibleName", lambda: "")() in ("it learns slot", "it learns SAS"):
                one.setChecked(True)

    answer(world, view, "effects-dos-step-1", fill)
    step = tomllib.loads(view.text)["route"][0]["step"][0]
    assert (step["say"], step["learns"]) == ("List.", ["slot", "sas"])


def test_a_check_says_what_is_missing_and_leads_to_its_line(drafted, world, monkeypatch):
    _page, view = drafted
    view.go_to(CHECK)
    monkeypatch.setattr(tasks, "draft_check", lambda context, text, progress: BAD)
    assert not view.proved.keep.isVisible()
    QTest.keyClick(view.proved, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert world.settle(lambda: bool(view.proved.list.rows.rows))
    assert "nothing here tells the modes apart" in view.proved.verdict.words.text()
    titles = [one.title for one in view.proved.list.rows.rows]
    assert titles[0] == "1 question is still open"
    assert "A draft <b>that</b>" in titles
    assert any("is taken" in one for one in titles)
    view.proved.list.stand_on("p0")
    assert view.proved.file.textCursor().blockNumber() == 11
    assert not view.proved.keep.isVisible()


def test_what_shows_itself_right_is_kept_and_opened(drafted, world, monkeypatch):
    page, view = drafted
    view.go_to(CHECK)
    kept = []
    monkeypatch.setattr(tasks, "draft_check", lambda context, text, progress: GOOD)
    done = Accepted("corvane-heron", "a" * 64, settled=True, changes=Changes(families=True), proof=GOOD.proof)
    monkeypatch.setattr(tasks, "draft_keep", lambda c, text, name, stop: kept.append(name) or (done, Path("/k.toml")))
    QTest.mouseClick(view.proved.check, Qt.MouseButton.LeftButton)
    assert world.settle(view.proved.keep.isVisible)
    QTest.mouseClick(view.proved.keep, Qt.MouseButton.LeftButton)
    assert world.settle(lambda: page.family == "corvane-heron")
    assert kept == [view.proved.name.text()]
    assert "settled" in world.window.says.text


def test_a_file_mended_by_hand_is_read_again(drafted, world):
    _page, view = drafted
    view.go_to(CHECK)
    view.proved.file.setPlainText(view.text + "[x\n")
    assert not view.proved.check.isEnabled()
    QTest.mouseClick(view.proved.take, Qt.MouseButton.LeftButton)
    world.settle()
    assert "not TOML" in world.window.says.text
    view.proved.file.setPlainText(view.text + "# mine\n")
    QTest.mouseClick(view.proved.take, Qt.MouseButton.LeftButton)
    assert world.settle(lambda: view.text.endswith("# mine\n"))
    assert view.proved.check.isEnabled()


def test_a_slow_check_can_be_stopped(drafted, world, monkeypatch):
    _page, view = drafted
    view.go_to(CHECK)

    def slow(context, text, progress):
        while True:
            progress.report(1, 3, "a piece")

    monkeypatch.setattr(tasks, "draft_check", slow)
    QTest.mouseClick(view.proved.check, Qt.MouseButton.LeftButton)
    QTest.qWait(50)
    assert view.proved.stop.isVisible()
    QTest.mouseClick(view.proved.stop, Qt.MouseButton.LeftButton)
    world.settle()
    assert "Stopped" in view.proved.verdict.words.text()
    heard = QAccessible.queryAccessibleInterface(view.proved.file)
    assert heard.text(QAccessible.Text.Name)
    assert focusable(world.window)


def test_a_line_that_was_read_says_of_what_it_speaks(drafted):
    """`written = true` alone would say nothing: the table it stands in does."""
    _page, view = drafted
    rows = view.read.list.rows.rows
    below = {one.title: one.below for one in rows}
    assert below['block = "Berth ~ {slot}"'].startswith("listing, from CARD.TXT")
    assert all(one.below.startswith("role.") for one in rows if one.title == "written = true")
    assert below[next(one for one in below if one.startswith("as_of"))].startswith("from ")
