"""The host form: facts shown, changed by keyboard, kept; what is wrong is said; nothing a file says is rich text."""

from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QComboBox, QFileDialog, QLineEdit

from catalogue.errors import BadCall
from catalogue.shapes.host_form import HostFacts, MachineFacts, SavedFile
from catalogue.shapes.results import FileProblem, HostInfo
from ui import tasks
from ui.widgets.host_form import HostForm

FACTS = HostFacts(
    "Rack nine",
    date(2026, 5, 2),
    MachineFacts("x86-64", ("legacy", "uefi"), False),
    MachineFacts("aarch64", ("uefi",), True, (Path("/hosts/rack/db.esl"),), (), Path("/hosts/rack/esrt.txt")),
    "/hosts/rack/host.toml",
)
HELD = {
    "db.esl": SavedFile(Path("/hosts/rack/db.esl"), "", ("CN=<b>Saltmarsh</b> \u202eRoot",), 3),
    "esrt.txt": SavedFile(Path("/hosts/rack/esrt.txt"), resources=2),
    "page.html": SavedFile(Path("/x/page.html"), "it holds no EFI signature list"),
}


@pytest.fixture
def opened(world, monkeypatch):
    """Opens the form on facts; the answers to what is kept are in `saved`, the calls in `told`."""
    world.window.show()
    told: list[HostFacts] = []
    monkeypatch.setattr(tasks, "host_file", lambda file, esrt: HELD[file.name])
    monkeypatch.setattr(tasks, "save_host", lambda facts: told.append(facts) or facts)

    def form(facts=FACTS):
        made = HostForm(world.session, facts, world.window)
        made.open()
        world.settle()
        return made

    yield form, told
    for one in world.window.findChildren(HostForm):
        one.reject()
    world.settle()


def test_the_facts_come_back_as_they_were_shown(opened):
    form, _told = opened
    assert form().facts == FACTS


def test_what_a_list_holds_is_said_harmlessly(opened, world):
    form, _told = opened
    shown = [one.text() for one in form().destination.db.findChildren(type(form().first))]
    assert "3 digests" in shown
    assert any("<b>Saltmarsh</b>" in one and "\u202e" not in one for one in shown)
    assert all(one.textFormat() == Qt.TextFormat.PlainText for one in form().findChildren(type(form().first)))


def test_facts_are_changed_by_keyboard_and_kept(opened, world):
    form, told = opened
    made = form()
    made.name.selectAll()
    QTest.keyClicks(made.name, "Rack ten")
    off = next(one for one in made.destination.secure.findChildren(QAbstractButton) if one.text() == "off")
    off.setFocus()
    QTest.keyClick(off, Qt.Key.Key_Space)
    made.destination.cpu.setFocus()
    QTest.keyClick(made.destination.cpu, Qt.Key.Key_Home)
    kept: list[HostFacts] = []
    made.kept.connect(kept.append)
    QTest.keyClick(made, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    world.settle(lambda: bool(kept))
    assert kept == told
    assert (told[0].name, told[0].destination.secure_boot, told[0].destination.cpu) == ("Rack ten", False, "")
    assert told[0].bench == FACTS.bench


def test_files_are_chosen_and_taken_out(opened, world, monkeypatch):
    form, _told = opened
    made = form()
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *a: (["/x/page.html"], ""))
    made.destination.dbx.add.click()
    world.settle()
    assert made.facts.destination.dbx == (Path("/x/page.html"),)
    assert not made.do.isEnabled()
    assert "it holds no EFI signature list" in made.first.text()
    out = next(one for one in made.destination.dbx.findChildren(QAbstractButton) if one.text() == "Take out")
    out.click()
    world.settle()
    assert made.facts.destination.dbx == ()
    assert made.do.isEnabled()


def test_one_table_takes_the_others_place(opened, world, monkeypatch):
    form, _told = opened
    made = form()
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *a: (["/x/page.html", "/x/db.esl"], ""))
    made.destination.esrt.add.click()
    world.settle()
    assert made.facts.destination.esrt == Path("/x/page.html")


@pytest.mark.parametrize(("name", "day", "said"), [("", "", "Give it a name"), ("x", "2 May", "no day")])
def test_what_must_be_done_first_is_said(opened, name, day, said):
    form, _told = opened
    made = form(HostFacts())
    made.name.setText(name)
    made.as_of.setText(day)
    assert not made.do.isEnabled()
    assert said in made.first.text()


def test_errors_of_the_file_stand_with_their_lines(opened, world, monkeypatch):
    form, _told = opened
    wrong = FileProblem("host.toml", 7, "destination.secure_boot is on, but <i>it</i> does not start by UEFI")
    monkeypatch.setattr(tasks, "save_host", lambda facts: HostFacts(problems=(wrong,)))
    made = form()
    kept = []
    made.kept.connect(kept.append)
    made.do.click()
    world.settle(lambda: not made.wrong.isHidden())
    assert "line 7: destination.secure_boot" in made.wrong.words.text()
    assert kept == [] and made.isVisible() and made.facts == FACTS


def test_a_file_that_is_no_toml_is_not_written_over(opened):
    form, _told = opened
    made = form(
        HostFacts(file="/h/host.toml", problems=(FileProblem("/h/host.toml", 2, "is no TOML"),), editable=False)
    )
    made.name.setText("x")
    assert not made.do.isEnabled()
    assert "line 2: is no TOML" in made.wrong.words.text()


def test_a_failure_is_said_in_the_form(opened, world, monkeypatch):
    form, _told = opened

    def refuse(facts):
        raise BadCall("A host of that name is kept already.")

    monkeypatch.setattr(tasks, "save_host", refuse)
    made = form()
    made.do.click()
    world.settle(lambda: not made.wrong.isHidden())
    assert "kept already" in made.wrong.words.text()
    assert made.do.isEnabled()


def test_every_control_has_a_name_of_its_own(opened):
    form, _told = opened
    made = form()
    names = []
    for kind in (QAbstractButton, QComboBox, QLineEdit):
        for one in made.findChildren(kind):
            if one.isVisible() and one.focusPolicy() != Qt.FocusPolicy.NoFocus:
                face = QAccessible.queryAccessibleInterface(one)
                names.append(face.text(QAccessible.Text.Name))
    assert all(names)
    assert len(names) == len(set(names)), sorted(names)


def test_an_answer_after_the_form_is_closed_is_dropped(opened, world):
    made = HostForm(world.session, FACTS, world.window)
    made.open()
    made.reject()
    world.settle()


def test_the_page_makes_and_edits_a_host(world, monkeypatch):
    rack = HostInfo("Rack nine", "/hosts/rack/host.toml", ("CPU x86-64",), ("Secure Boot on",))
    world.hosts = [rack]
    world.window.show()
    world.window.start()
    world.window.open_page(1)
    world.settle()
    page = world.window.page(1)
    monkeypatch.setattr(tasks, "host_facts", lambda file: FACTS)
    monkeypatch.setattr(tasks, "host_file", lambda file, esrt: HELD[file.name])
    monkeypatch.setattr(tasks, "save_host", lambda facts: facts)
    assert not page.edit_host.isEnabled()
    assert "Nothing is known" in page.host_told.text()
    page.hosts.setFocus()
    QTest.keyClick(page.hosts, Qt.Key.Key_Down)
    assert "destination: Secure Boot on" in page.host_told.text()
    page.edit_host.click()
    world.settle(lambda: page.findChild(HostForm) is not None)
    made = page.findChild(HostForm)
    assert made.facts == FACTS
    made.do.click()
    world.settle(lambda: "is kept" in world.window.says.text)
    world.settle()
    page.new_host.click()
    world.settle()
    made = next(one for one in page.findChildren(HostForm) if one.isVisible())
    assert made.facts == HostFacts()
    made.reject()
    world.settle()


def test_a_host_whose_file_has_an_error_says_its_line(world):
    world.hosts = [HostInfo("old", "/h/host.toml", problems=(FileProblem("/h/host.toml", 3, "is <b>wrong</b>"),))]
    world.window.show()
    world.window.start()
    world.window.open_page(1)
    world.settle()
    page = world.window.page(1)
    page.hosts.setFocus()
    QTest.keyClick(page.hosts, Qt.Key.Key_Down)
    assert page.host_told.text() == "Its file cannot be used. Line 3: is <b>wrong</b>"
    assert page.hosts.host == ""
    assert page.edit_host.isEnabled()
