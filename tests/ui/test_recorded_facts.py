"""The dialog of what people recorded: listed, recorded, taken back, handed out, brought in by name; all by keyboard."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog, QPushButton

from catalogue.errors import BadCall
from catalogue.shapes.changes import Changes
from catalogue.shapes.piece import SignatureCheck
from catalogue.shapes.results import (
    Against,
    ContradictedEntry,
    FactLine,
    FactsIn,
    FactsOut,
    FamilyIn,
    Vouched,
)
from ui import tasks
from ui.widgets.say_so import SaySo

AT = "2026-03-01T12:00:00+00:00"
LIST = FactLine("a" * 64, "list", "SUMS, 6 digests, from <b>a page</b>", "Ann", AT)
THEIRS = FactLine("b" * 64, "key", "openpgp key 0123, from a letter", "Cy", AT, "Marsh Lane", "Bo", AT)
BACK = replace(LIST, id="c" * 64, state="taken-back", why="Bo took it back on 2026-03-02: wrong page")
WORD = FactLine("d" * 64, "word", "unvouched cleared for 0123", "Cy", AT, "Marsh Lane")
HELD = FactsIn(
    "/tmp/x.facts", "0" * 64, "Marsh Lane", "Cy", False, (THEIRS,), 2, (Against(BACK, "It stays so."),), (WORD,),
    (ContradictedEntry("fw.bin", "0" * 64, "1" * 64, "/in/fw.bin"),),
    (FamilyIn("corvane-heron", "0" * 64, "new"),),
    (SignatureCheck("/tmp/x.facts.sig", "holds", "Marsh Lane (01)", "a letter"),),
)  # fmt: skip


@pytest.fixture
def dialog(world, monkeypatch, tmp_path):
    """The dialog over answers made here; `world.done` gathers what it asked for."""
    world.done = []
    world.facts = [LIST, THEIRS, BACK]

    def write(name, answer):
        def call(context, *words, **more):
            world.done.append((name, words, more))
            return answer() if callable(answer) else answer

        monkeypatch.setattr(tasks, name, call)

    write("facts", lambda: list(world.facts))
    write("bench_name", "Saltmarsh")
    write("take_back_fact", Changes(vouching=True))
    write("record_source", Vouched(6, 2, changes=Changes(vouching=True)))
    write("facts_out", FactsOut(str(tmp_path / "f"), "0" * 64, "Saltmarsh", 3, ()))
    write("facts_in", HELD)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *a: (str(tmp_path / "x.facts"), ""))
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *a: (str(tmp_path / "out.facts"), ""))
    world.write = write
    world.window.resize(1366, 768)
    world.window.show()
    world.window.start()
    world.settle()
    made = world.window.page(0).show_recorded()
    world.settle(lambda: made.list.rows.rowCount() == 3)
    yield made
    made.close()
    world.settle()


def asked(world, name):
    return [(words, more) for one, words, more in world.done if one == name]


def fill(world, dialog, reason, by):
    forms = [one for one in dialog.findChildren(SaySo) if one.isVisible()]
    assert len(forms) == 1
    world.settle()
    if reason:
        forms[0].reason.setText(reason)
    forms[0].by.setText(by)
    assert forms[0].do.isEnabled()
    forms[0].do.click()
    world.settle()
    return forms[0]


def test_each_fact_says_who_since_when_and_from_where(world, dialog):
    rows = dialog.list.rows.rows
    assert [row.mark for row in rows] == ["good", "good", "left"]
    assert rows[0].below == "by Ann, since 2026-03-01"
    assert rows[1].below == "by Cy, at Marsh Lane, taken in by Bo, since 2026-03-01"
    assert "wrong page" in rows[2].below
    dialog.list.setFocus()
    QTest.keyClick(dialog.list, Qt.Key.Key_Down)
    assert "<b>a page</b>" in dialog.more.text() or "Marsh Lane" in dialog.more.text()
    assert dialog.more.textFormat() == Qt.TextFormat.PlainText


def test_every_button_is_reached_by_tab_and_named(world, dialog):
    buttons = {one for one in dialog.findChildren(QPushButton) if one.isVisible() and one.isEnabled()}
    met = set()
    dialog.list.setFocus()
    for _ in range(12):
        QTest.keyClick(dialog.focusWidget(), Qt.Key.Key_Tab)
        met.add(dialog.focusWidget())
    assert buttons <= met
    assert all(one.accessibleName() for one in buttons)


def test_a_fact_is_taken_back_with_a_reason(world, dialog):
    dialog.list.stand_on(BACK.id)
    assert not dialog.back.isEnabled(), "it is taken back already"
    dialog.list.stand_on(LIST.id)
    dialog.back.click()
    before = len(asked(world, "facts"))
    fill(world, dialog, "the wrong page", "Bo")
    world.settle(lambda: len(asked(world, "facts")) > before)
    assert asked(world, "take_back_fact") == [((LIST.id,), {"reason": "the wrong page", "by": "Bo"})]


def test_a_list_is_recorded_with_its_source(world, dialog):
    dialog.record.click()
    fill(world, dialog, "the maker's page, 3 March", "Ann")
    world.settle(dialog.told.isVisible)
    ((words, more),) = asked(world, "record_source")
    assert (words[0].name, more) == ("x.facts", {"source": "the maker's page, 3 March", "by": "Ann"})
    assert "6 digests; 2 match here" in dialog.told.words.text()


def test_facts_are_handed_out_under_the_name_of_the_bench(world, dialog):
    dialog.hand.click()
    world.settle(lambda: bool(asked(world, "bench_name")))
    fill(world, dialog, "", "Ann")
    world.settle(dialog.told.isVisible)
    ((words, more),) = asked(world, "facts_out")
    assert (words[0].name, more) == ("out.facts", {"by": "Ann", "bench": "Saltmarsh"})
    assert "3 facts" in dialog.told.words.text()


def brought(world, dialog):
    dialog.bring.click()
    world.settle(dialog.brought.isVisible)
    return dialog.brought


def test_what_comes_in_is_shown_first(world, dialog):
    page = brought(world, dialog)
    assert asked(world, "facts_in") == [((Path(asked(world, "facts_in")[0][0][0]),), {})], "nothing is taken in"
    assert [row.mark for row in page.list.rows.rows] == ["stop", "stop", "note", "note", "caution"]
    assert "It stays so" in page.list.rows.rows[0].below
    assert [one.words.text() for one in page._marks] == [
        "The signature x.facts.sig holds, by Marsh Lane (01), from a letter."
    ]
    page.by.setText("")
    assert not page.do.isEnabled(), "somebody must answer for it"


@pytest.mark.parametrize("words", [False, True])
def test_it_is_taken_in_by_name(world, dialog, words):
    page = brought(world, dialog)
    page.by.setText("Bo")
    page.words.setFocus()
    if words:
        QTest.keyClick(page.words, Qt.Key.Key_Space)
    laid = FamilyIn("corvane-heron", "0" * 64, "new", "/own/corvane-heron.toml")
    world.write("facts_in", replace(HELD, taken=True, families=(laid,), changes=Changes(vouching=True)))
    page.do.click()
    world.settle(dialog.told.isVisible)
    assert asked(world, "facts_in")[-1][1] == {"by": "Bo", "accept": True, "words": words}
    assert "fact taken in from Marsh Lane" in dialog.told.words.text()
    assert "unsettled" in dialog.told.words.text()
    assert dialog.list.isVisible()


def test_a_broken_signature_locks_the_way_in(world, dialog):
    world.write("facts_in", replace(HELD, signatures=(SignatureCheck("/tmp/x.sig", "broken", "Marsh Lane"),)))
    page = brought(world, dialog)
    page.by.setText("Bo")
    assert not page.do.isEnabled()
    assert "nothing is taken in" in page._marks[0].words.text()


def test_a_file_that_is_none_is_said(world, dialog):
    def refuse():
        raise BadCall("x.facts is not read as facts: line 1: it is no facts file of this version.")

    world.write("facts_in", refuse)
    dialog.bring.click()
    world.settle(dialog.told.isVisible)
    assert "line 1" in dialog.told.words.text()
    assert dialog.list.isVisible()


def test_leaving_goes_back(world, dialog):
    page = brought(world, dialog)
    page.left.emit()
    assert dialog.list.isVisible()
    assert len(asked(world, "facts_in")) == 1
