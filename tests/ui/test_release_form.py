"""The form of a release: typed in, or taken from notes, offered with offset; written into the family file."""

from dataclasses import replace
from datetime import date

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QComboBox, QFileDialog, QLineEdit

from catalogue.errors import BadCall
from catalogue.shapes.releases import AddedRelease, Mention, NewRelease
from catalogue.shapes.results import FileProblem
from tests.ui.world import FAMILIES
from ui import tasks
from ui.widgets.release_form import ReleaseForm

FAMILY = replace(FAMILIES[0], roles=("firmware", "legacy-boot-rom"), file="/home/u/families/bittern.toml")
MENTIONS = [
    Mention("13.00.0", 8, 1, "Version 13.00.0 <b>now</b> (20 May 2026)", "2026-05-20", 32),
    Mention("8.42.0", 60, 4, "boot ROM 8.42.0 \u202e", "", 0),
]


@pytest.fixture
def opened(world, monkeypatch):
    world.window.resize(1366, 768)
    world.window.show()
    told: list[NewRelease] = []
    monkeypatch.setattr(tasks, "notes", lambda file: MENTIONS)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *a: ("/in/notes.txt", ""))
    monkeypatch.setattr(
        tasks, "add_release", lambda c, family, new: told.append(new) or AddedRelease("/home/u/f.toml", 81, "a" * 64)
    )
    form = ReleaseForm(world.session, FAMILY, world.window)
    form.open()
    world.settle()
    yield world, form, told
    world.settle()


def fill(form, **texts):
    for name, said in texts.items():
        getattr(form, name).setText(said)


def test_a_release_is_typed_in_and_written(opened):
    world, form, told = opened
    fill(form, name="thirteen", day="2026-05-20", by="Mara Quill", as_of="2026-06-01")
    form.versions["firmware"].setText("13.00.0")
    added: list[AddedRelease] = []
    form.added.connect(added.append)
    QTest.keyClick(form, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    world.settle(lambda: bool(added))
    assert told == [
        NewRelease(
            "thirteen", date(2026, 5, 20), {"firmware": "13.00.0"}, by="Mara Quill", as_of=date(2026, 6, 1)
        )
    ]  # fmt: skip


def test_what_notes_mention_is_offered_and_believed_only_when_taken(opened):
    world, form, told = opened
    form.read.click()
    world.settle(lambda: len(form.list.rows.rows) == 2)
    first, second = form.list.rows.rows
    assert first.title == "13.00.0, near 2026-05-20" and first.below.startswith("0008h, line 1: ")
    assert second.title == "8.42.0, no day near" and "\u202e" not in second.below
    assert form.name.text() == form.day.text() == form.versions["firmware"].text() == ""
    assert not form.do.isEnabled()
    form.list.stand_on("0")
    assert "0008h, line 1" in form.line.text() and "<b>now</b>" in form.line.text() and "0020h" in form.line.text()
    form.take.click()
    assert (form.name.text(), form.day.text(), form.versions["firmware"].text()) == (
        "13.00.0", "2026-05-20", "13.00.0",
    )  # fmt: skip
    QTest.keyClick(form.list, Qt.Key.Key_Down)
    form.role.setCurrentIndex(1)
    form.take.click()
    assert form.versions["legacy-boot-rom"].text() == "8.42.0"
    assert form.name.text() == "13.00.0"
    form.by.setText("Ada")
    form.do.click()
    world.settle(lambda: bool(told))
    assert told[0].versions == {"firmware": "13.00.0", "legacy-boot-rom": "8.42.0"}
    assert told[0].source == "notes.txt, offset 003Ch"


@pytest.mark.parametrize(
    ("texts", "said"),
    [
        ({"name": ""}, "name its maker gives"),
        ({"day": ""}, "on which day"),
        ({"day": "20 May"}, "20 May is no day"),
        ({"as_of": "soon"}, "soon is no day"),
        ({"by": " "}, "your name"),
    ],
)
def test_what_is_missing_is_said(opened, texts, said):
    _world, form, _told = opened
    fill(form, **{"name": "x", "day": "2026-05-20", "by": "Ada", **texts})
    form.versions["firmware"].setText("1")
    assert not form.do.isEnabled() and said in form.first.text()
    assert form.release() is None


def test_a_version_of_one_role_is_needed(opened):
    _world, form, _told = opened
    fill(form, name="x", day="2026-05-20", by="Ada")
    assert "at least one role" in form.first.text()


def test_what_would_break_the_file_is_said_with_its_line(opened, monkeypatch):
    world, form, _told = opened
    wrong = AddedRelease("/f.toml", problems=(FileProblem("/f.toml", 83, "date is <i>wrong</i>"),))
    monkeypatch.setattr(tasks, "add_release", lambda c, family, new: wrong)
    fill(form, name="x", day="2026-05-20", by="Ada")
    form.versions["firmware"].setText("1")
    form.do.click()
    world.settle(lambda: not form.wrong.isHidden())
    assert "Nothing was written" in form.wrong.words.text() and "line 83: date is <i>" in form.wrong.words.text()
    assert form.isVisible() and form.do.isEnabled()


def test_notes_that_cannot_be_read_are_said(opened, monkeypatch):
    world, form, _told = opened

    def refuse(file):
        raise BadCall(f"{file} is no plain text.")

    monkeypatch.setattr(tasks, "notes", refuse)
    form.read.click()
    world.settle(lambda: not form.wrong.isHidden())
    assert "no plain text" in form.wrong.words.text()


def test_every_control_has_a_name_of_its_own(opened):
    _world, form, _told = opened
    names = [
        QAccessible.queryAccessibleInterface(one).text(QAccessible.Text.Name)
        for kind in (QAbstractButton, QComboBox, QLineEdit)
        for one in form.findChildren(kind)
        if one.isVisible()
    ]
    assert all(names) and len(names) == len(set(names)), sorted(names)


def test_the_page_opens_it_for_a_family_of_ones_own_only(world, monkeypatch):
    world.families = [replace(FAMILIES[0], shipped=True), replace(FAMILIES[1], roles=("firmware",))]
    world.window.show()
    world.window.start()
    world.window.open_page(1)
    world.settle()
    page = world.window.page(1)
    page._take("corvane-bittern")
    world.settle(lambda: page.kit is not None)
    page.view.release.click()
    assert "came with the program" in world.window.says.text
    assert not page.findChildren(ReleaseForm)
    page._take("corvane-heron")
    world.settle(lambda: page.kit is not None)
    monkeypatch.setattr(tasks, "add_release", lambda c, family, new: AddedRelease("/f/heron.toml", 12, "a" * 64))
    page.view.release.click()
    form = page.findChild(ReleaseForm)
    fill(form, name="x", day="2026-05-20", by="Ada")
    form.versions["firmware"].setText("1")
    before = [one[0] for one in world.asked].count("families")
    form.do.click()
    world.settle(lambda: "line 12" in world.window.says.text)
    world.settle(lambda: [one[0] for one in world.asked].count("families") > before)
