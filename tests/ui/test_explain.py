"""On the Kits page: what would make it ready, why not this one, and one press from a finding to what it speaks of."""

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog

from catalogue.shapes.changes import Changes
from catalogue.shapes.finding import Evidence, Finding, Level
from catalogue.shapes.mending import ChangeKind, Mending
from catalogue.shapes.results import Vouched
from tests.ui.world import CHANGES, FINDINGS, KIT, READY, ROM_SHA
from ui import tasks
from ui.session import Open
from ui.widgets.basics import Button, Words
from ui.widgets.evidence_line import EvidenceLine
from ui.widgets.finding_list import FindingRow
from ui.widgets.mend_list import TITLE
from ui.widgets.role_rows import RoleRow
from ui.widgets.say_so import SaySo
from ui.widgets.text_sheet import TextSheet
from ui.widgets.why_sheet import WhySheet


@pytest.fixture
def kits(world):
    world.window.show()
    world.window.start()
    page = world.window.page(1)
    world.window.open_page(1)
    page.open(Open("Kits", family="corvane-bittern"))
    assert world.settle(lambda: page.kit is not None and page.view.area.isVisible())
    return page


def press(button):
    assert button.isEnabled()
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)


def buttons(widget, words):
    return [one for one in widget.findChildren(Button) if one.text() == words]


def said(widget):
    return " | ".join(one.text() for one in widget.findChildren(Words))


def test_it_is_worked_out_once_the_kit_is_judged_and_shown_with_its_actions(kits, world):
    mend = kits.view.mend
    assert world.settle(lambda: mend.isVisible() and len(buttons(mend, "Copy what to look for")) == 3)
    shown = said(kits.view.mend)
    assert TITLE in shown and CHANGES[0].text in shown and f"And: {CHANGES[3].text}" in shown
    assert all(one.accessibleName() for one in kits.view.mend.findChildren(Button))


def test_a_kit_that_is_ready_shows_nothing_to_mend(world):
    world.kit = READY
    world.window.show()
    page = world.window.page(1)
    page.open(Open("Kits", family="corvane-bittern"))
    assert world.settle(lambda: page.kit is not None)
    assert page.view.mend.isHidden() and page.view.foot.mend.isHidden()
    assert not any(name[0] == "mending" for name in world.asked)


def test_what_to_look_for_is_copied_a_line_each(kits, world):
    assert world.settle(lambda: buttons(kits.view.mend, "Copy what to look for"))
    press(buttons(kits.view.mend, "Copy what to look for")[0])
    assert QApplication.clipboard().text().splitlines() == [
        "Get a piece for writer from its maker and index it", "kind: dos-program", "holds the text: QUAYHAND",
    ]  # fmt: skip


@pytest.mark.parametrize(("words", "title"), [("Pin it", "Pin a choice"), ("Give your word", "Give your word")])
def test_a_pin_and_a_word_ask_the_person_first(kits, world, words, title):
    assert world.settle(lambda: buttons(kits.view.mend, words))
    press(buttons(kits.view.mend, words)[0])
    form = kits.findChild(SaySo)
    assert form.windowTitle() == title and not form.do.isEnabled()
    form.reject()


def test_the_way_there_is_beside_the_verdict(kits, world):
    assert world.settle(lambda: buttons(kits.view.mend, "Pin it"))
    press(kits.view.foot.mend)
    top = kits.view.mend.mapTo(kits.view.area.viewport(), kits.view.mend.rect().topLeft()).y()
    assert top < kits.view.area.viewport().height()
    assert kits.view.mend.isAncestorOf(QApplication.focusWidget())


def test_where_nothing_helps_and_where_it_was_cut_short_it_says_so(kits, world):
    kits.view.mend.show_found(Mending((), False, 400, ("wrong-start: the card is in a third mode.",)))
    shown = said(kits.view.mend)
    assert "No change that is known here" in shown and "wrong-start" in shown and "Not all changes were tried" in shown


def test_why_not_this_one_shows_every_answer_and_leads_on(kits, world):
    row = next(one for one in kits.view.findChildren(RoleRow) if one.choice.role == "uefi-boot-rom")
    press(row._more)
    press(buttons(row, "Why not")[0])
    assert world.settle(lambda: world.window.findChild(WhySheet) is not None)
    sheet = world.window.findChild(WhySheet)
    shown = said(sheet)
    assert "No word clears that" in shown and "Ids: yes" in shown and "Hash: silent" in shown
    press(next(one.button for one in sheet.findChildren(EvidenceLine) if one.button.text() == "Show the bytes"))
    shelf = world.window.page(0)
    assert world.settle(lambda: shelf.sheet.detail is not None and shelf.sheet.detail.info.sha256 == ROM_SHA)
    assert not sheet.isVisible()


def test_a_family_line_opens_the_family_at_that_line(kits, world):
    about = Evidence("/families/bittern.toml:90", "release[0]")
    world.kit = replace(KIT, findings=(Finding("stale", Level.CAUTION, "A newer one is known", (about,), "Get it."),))
    kits._judge()
    assert world.settle(lambda: [one.finding.code for one in kits.view.findChildren(FindingRow)][-1:] == ["stale"])
    row = kits.view.findChildren(FindingRow)[-1]
    press(buttons(row, "Show the line")[0])
    assert world.settle(lambda: world.window.findChild(TextSheet) is not None)
    sheet = world.window.findChild(TextSheet)
    assert sheet.area.textCursor().block().text().split() == ["›", "90", "line", "90"]
    sheet.accept()


def test_a_pin_leads_to_the_person(kits, world):
    kits._show_evidence(Evidence(f"pin firmware={ROM_SHA}", "pin"), None)
    assert world.settle(lambda: any(name[0] == "evidence_target" for name in world.asked))


def test_every_finding_has_one_press_for_each_piece_of_evidence(kits):
    for row in kits.view.findChildren(FindingRow):
        assert len(row.findChildren(EvidenceLine)) == len(row.finding.evidence)
    assert len(kits.view.findChildren(FindingRow)) == len(FINDINGS)


def test_a_source_is_recorded_from_what_would_make_it_ready(kits, world, monkeypatch, tmp_path):
    """The same form as on the Shelf, with what came of it said in the window's strip."""
    given = []

    def record(context, file, *, source, by):
        given.append((file.name, source, by))
        return Vouched(6, 2, changes=Changes(vouching=True))

    monkeypatch.setattr(tasks, "record_source", record)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *a: (str(tmp_path / "maker.sha256"), ""))
    kits._make_change(next(one for one in CHANGES if one.kind is ChangeKind.VOUCH))
    form = kits.findChild(SaySo)
    assert not form.do.isEnabled(), "a source and a name are needed"
    form.reason.setText("the maker's page, 3 March")
    form.by.setText("Ann")
    press(form.do)
    assert world.settle(lambda: "6 digests; 2 match here" in world.window.says.text)
    assert given == [("maker.sha256", "the maker's page, 3 March", "Ann")]
