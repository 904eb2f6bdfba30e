"""A new text of a family is accepted only after what it changes was shown; a variant says what it changes."""

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel
from shiboken6 import isValid

from catalogue.shapes.results import Accepted, FamilyChange, FamilyUpdate, KitChange
from tests.ui.world import FAMILIES
from ui import look, tasks
from ui.session import Open
from ui.widgets.kit_view import variant_words
from ui.widgets.update_sheet import UpdateSheet

CHANGES = (
    FamilyChange("card.flash", "8388608", "<b>4</b>", "/f/heron.toml", 12),
    FamilyChange("role.notes.kind", "text", "", "/f/heron.toml", 30),
    FamilyChange("release[new].date", "", "2026-01-01", "/f/heron.toml", 70),
)
UPDATE = FamilyUpdate("a" * 64, CHANGES, (KitChange("raid-to-pass-dos", "verdict", "ready", "not-ready"),), ("/stick",))


@pytest.fixture
def opened(world, monkeypatch, qapp):
    """Opens the sheet for an unsettled family whose text has changed; what was accepted is in the list."""
    done = []
    monkeypatch.setattr(tasks, "look_at_family", lambda *_: Accepted("corvane-heron", "b" * 64, False, update=UPDATE))
    monkeypatch.setattr(tasks, "accept_family", lambda c, file: done.append(file) or Accepted("h", "b" * 64, True))
    window = world.window
    window.resize(1024, 768)
    window.show()
    window.start()
    at = window.page_called("Kits")
    window.open_page(at)
    world.settle()
    page = window.page(at)
    page.open(Open("Kits", family="corvane-heron"))
    world.settle(lambda: page.kit is not None)
    QTest.mouseClick(page.view.accept, Qt.MouseButton.LeftButton)
    world.settle(lambda: bool(page.findChildren(UpdateSheet)))
    (sheet,) = page.findChildren(UpdateSheet)
    yield sheet, done
    if isValid(sheet):
        sheet.reject()
    world.settle()


def test_what_changes_is_shown_before_it_is_accepted(opened, world):
    sheet, done = opened
    assert done == []
    rows = sheet.list.rows.rows
    assert [one.title for one in rows] == [
        "Raid to pass DOS, verdict: not-ready", "A kit written by the text before lies on /stick",
        "card.flash: <b>4</b>", "role.notes.kind: gone", "release[new].date: 2026-01-01",
    ]  # fmt: skip
    assert rows[0].mark == "stop"
    QTest.keyClick(sheet, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert world.settle(lambda: bool(done))


def test_it_can_be_left(opened, world):
    sheet, done = opened
    QTest.keyClick(sheet, Qt.Key.Key_Escape)
    world.settle()
    assert done == []


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_it_is_named_plain_and_painted(opened, qapp, dark):
    sheet, _done = opened
    qapp.setPalette(look.palette(look.DARK if dark else look.LIGHT))
    QApplication.processEvents()
    assert sheet.list.accessibleName()
    assert [one.text() for one in sheet.findChildren(QLabel) if one.textFormat() != Qt.TextFormat.PlainText] == []
    picture = sheet.grab()
    assert not picture.isNull()


def test_a_variant_says_what_it_changes():
    info = replace(FAMILIES[0], extends="corvane-bittern", changes=CHANGES)
    said = variant_words(info)
    assert said.startswith("Stands on corvane-bittern: card.flash is <b>4</b> instead of 8388608; ")
    assert "role.notes.kind is gone" in said
    assert variant_words(replace(info, changes=())) == "Stands on corvane-bittern: it changes nothing."
    assert "and 4 more" in variant_words(replace(info, changes=CHANGES[:1] * 10))
    assert variant_words(FAMILIES[0]) == ""
