"""Words and pins on the Kits page: who, when and why, what has changed since, and the way back."""

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QLabel

from catalogue.shapes.kit import Word
from catalogue.shapes.results import WordGiven
from tests.ui.world import KIT, ROM_SHA, sha
from ui.widgets.decisions_list import Decision
from ui.widgets.say_so import SaySo

FRESH = WordGiven(
    "corvane-bittern", "unvouched", ROM_SHA, "seen on card <b>12</b>", "Mara Quill", "2026-05-04T10:00:00+00:00",
    "/in/a.zip › QHBOOT.ROM",
)  # fmt: skip
AGED = WordGiven(
    "corvane-bittern", "withdrawn", sha(7), "the \u202ebench needs it", "Ada", "2024-01-02T10:00:00+00:00", "",
    ("The family file has changed since 2024-01-02: then SHA-256 a, now b.", "It is over a year old."),
)  # fmt: skip


@pytest.fixture
def kits(world):
    world.words = [FRESH, AGED]
    world.kit = replace(KIT, words=(Word("unvouched", ROM_SHA, "seen", "Mara Quill"),))
    world.window.resize(1366, 768)
    world.window.show()
    world.window.start()
    world.window.open_page(1)
    world.settle()
    page = world.window.page(1)
    page._take("corvane-bittern")
    world.settle(lambda: page.kit is not None)
    world.settle()
    return world, page


def rows(page):
    return page.view.decisions.findChildren(Decision)


def said(row):
    return "\n".join(one.text() for one in row.findChildren(QLabel))


def test_words_are_listed_the_aged_first(kits):
    _world, page = kits
    aged, fresh = rows(page)
    assert aged.said.mark._mark == "caution" and fresh.said.mark._mark == "note"
    assert "The family file has changed" in said(aged) and "over a year old" in said(aged)
    assert "Ada, 2024-01-02" in said(aged) and "\u202e" not in said(aged)
    assert "It clears nothing in this kit." in said(aged)
    assert "Mara Quill, 2026-05-04" in said(fresh) and "<b>12</b>" in said(fresh)
    assert "It counts in this kit." in said(fresh)
    assert "2 words, since 1 word something has changed" in said(page.view.decisions)


def test_a_word_is_taken_back_by_keyboard(kits):
    world, page = kits
    world.words = [FRESH]
    before = [one[0] for one in world.asked].count("kit")
    back = rows(page)[0].back
    back.setFocus()
    QTest.keyClick(back, Qt.Key.Key_Space)
    world.settle(lambda: ("take_back_word", "corvane-bittern", "withdrawn", sha(7)) in world.asked)
    world.settle(lambda: [one[0] for one in world.asked].count("kit") > before)
    world.settle(lambda: len(rows(page)) == 1)
    assert "taken back" in world.window.says.text


def test_a_pin_is_made_with_reason_and_name_and_taken_back(kits):
    world, page = kits
    page._pin("firmware", sha(5))
    form = page.findChild(SaySo)
    form.reason.setText("as agreed with the <i>owner</i>")
    form.by.setText("")
    assert not form.do.isEnabled()
    form.by.setText("Mara Quill")
    form.do.click()
    world.settle(lambda: bool(page.kit.pins))
    world.settle()
    assert (page.kit.pins[0].reason, page.kit.pins[0].by) == ("as agreed with the <i>owner</i>", "Mara Quill")
    pin = rows(page)[0]
    assert "as agreed with the <i>owner</i>" in said(pin) and "Mara Quill, 20" in said(pin) and "UTC" in said(pin)
    pin.back.click()
    world.settle(lambda: not page.kit.pins)
    world.settle(lambda: len(rows(page)) == 2)


def test_nothing_decided_shows_nothing(world):
    world.window.show()
    world.window.start()
    world.window.open_page(1)
    world.settle()
    page = world.window.page(1)
    page._take("corvane-bittern")
    world.settle(lambda: page.kit is not None)
    assert page.view.decisions.isHidden()


def test_every_way_back_has_a_name_of_its_own(kits):
    _world, page = kits
    names = [one.accessibleName() for one in page.view.decisions.findChildren(QAbstractButton)]
    assert len(names) == len(set(names)) == 2
