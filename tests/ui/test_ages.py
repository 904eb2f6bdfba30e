"""What is stale or withdrawn stands out on every page, in a word and a shape, and as of which day it is known."""

import sys
from datetime import date

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel

from catalogue.errors import NotWorkable, Stopped
from catalogue.shapes.changes import Changes
from catalogue.shapes.results import Stale, WrittenKit
from catalogue.tasks.context import Context
from tests.ui.world import FAMILIES, ROM_SHA, sha
from ui import jobs, tasks
from ui.ages import sentence
from ui.jobs import Stopper, asked_apart
from ui.session import Open
from ui.widgets.basics import Said

DAY = date(2026, 3, 1)


def old(piece, age="stale", **rest):
    given = {"what": "/in/x", "has": "8.30.0", "newest": "8.41.0", "why": "a newer one is known", **rest}
    return Stale(**given, family="corvane-bittern", role="legacy-boot-rom", piece=piece, age=age, as_of=DAY)


def written(kit="k" * 64, target="/media/stick", family="corvane-bittern"):
    return WrittenKit(kit, family, "Corvane <b>Bittern</b>", "raid-to-pass-dos", target, "2026-05-04T10:20:30Z")


def begin(world):
    world.window.resize(1366, 768)
    world.window.show()
    world.window.start()
    world.window._later.stop()
    world.window._build_rest()
    world.settle()


def said(widget):
    return "\n".join(one.text() for one in widget.findChildren(QLabel) if one.isVisibleTo(widget))


def test_an_old_piece_stands_out_on_the_shelf(world):
    world.stale = [old(ROM_SHA), old(sha(1), "withdrawn"), old(sha(1)), old(sha(2), kit="k" * 64, target="/x")]
    begin(world)
    page = world.window.page(0)
    told = [page.table.index(row, 0).data(Qt.ItemDataRole.AccessibleTextRole) for row in range(3)]
    assert told[0].startswith("stale. ")
    assert told[1].startswith("withdrawn. ")
    assert not told[2].startswith(("stale", "withdrawn"))
    assert "1 stale and 1 withdrawn" in page._news.text()
    page.list.selectRow(0)
    world.settle(lambda: page.sheet.detail is not None)
    assert not page.sheet.old.isHidden()
    assert "8.30.0" in page.sheet.old.words.text() and "Known as of 2026-03-01" in page.sheet.old.words.text()


def test_a_piece_that_is_not_old_says_nothing(world):
    begin(world)
    page = world.window.page(0)
    page.list.selectRow(0)
    world.settle(lambda: page.sheet.detail is not None)
    assert page.sheet.old.isHidden()
    assert "Old by" not in page._news.text()


def test_ages_that_come_later_are_shown_at_once(world):
    begin(world)
    page = world.window.page(0)
    page.list.selectRow(0)
    world.settle(lambda: page.sheet.detail is not None)
    world.stale = [old(ROM_SHA, "withdrawn", why="withdrawn: drops its link (notice 14)")]
    world.session.hand_round(Changes(families=True))
    world.settle(lambda: not page.sheet.old.isHidden())
    assert "notice 14" in page.sheet.old.words.text()
    asked = [one[0] for one in world.asked].count("stale")
    world.session.hand_round(Changes(words=True))
    world.settle()
    assert [one[0] for one in world.asked].count("stale") == asked


def test_written_kits_that_are_old_stand_on_kits_and_media(world):
    kit = "k" * 64
    world.written = [written(kit), written("l" * 64, "/media/other"), written("m" * 64, "/x", "corvane-heron")]
    world.stale = [old(ROM_SHA, kit=kit, target="/media/stick", when="2026-05-04")]
    begin(world)
    kits = world.window.page(1)
    kits.open(Open("Kits", family="corvane-bittern"))
    world.window.open_page(1)
    world.settle(lambda: kits.kit is not None)
    world.settle()
    shown = said(kits.view.written)
    assert "1 kit" in shown and "Holds something stale" in shown and "Known as of 2026-03-01" in shown
    assert "l" * 12 not in shown and "<b>Bittern</b>" in shown
    assert [one.mark._mark for one in kits.view.written.findChildren(Said)] == ["stale"]
    media = world.window.page(2)
    world.window.open_page(2)
    world.settle()
    shown = said(media.written)
    assert "3 kits, 1 of them holds something old by now" in shown
    assert [one.mark._mark for one in media.written.findChildren(Said)] == ["stale", "note", "note"]
    media.written.stand_on("/media/other")
    first = media.written.findChildren(Said)[0]
    assert "written here on 2026-05-04 10:20 UTC" in first.words.text()


def test_what_was_written_again_is_listed_once(world):
    world.written = [written(), written()]
    begin(world)
    world.window.open_page(2)
    world.settle()
    assert len(world.window.page(2).written.findChildren(Said)) == 1


def test_known_as_of_is_always_said_on_kits(world):
    from dataclasses import replace

    world.families = [replace(one, as_of=DAY) for one in FAMILIES]
    begin(world)
    page = world.window.page(1)
    page.open(Open("Kits", family="corvane-bittern"))
    world.settle(lambda: page.kit is not None)
    assert page.view._known.text() == "Known as of 2026-03-01"
    assert all("known as of 2026-03-01" in one.below for one in page.list.rows.rows)


def test_a_failure_to_ask_leaves_nothing_known_and_says_no_false_thing(world, monkeypatch):
    def fail(context, stopper):
        raise NotWorkable("no answer")

    monkeypatch.setattr(tasks, "stale", fail)
    begin(world)
    assert world.session.ages.word_for(ROM_SHA) == ""


def test_the_sentence_says_age_family_role_versions_and_day():
    assert sentence(old("x")) == (
        "Stale for corvane-bittern, legacy boot ROM: it is 8.30.0; the newest known is 8.41.0; a newer one is known. "
        "Known as of 2026-03-01."
    )
    assert "a version that is not read" in sentence(old("x", has=""))


def test_our_own_command_answers_from_a_process_of_its_own(tmp_path):
    context = Context(str(tmp_path / "c.sqlite"))
    assert tasks.stale(context, Stopper()) == []
    with pytest.raises(NotWorkable, match="without an answer"):
        asked_apart(context, ["kit", "no-such-family", "--json"], Stopper())


def test_a_process_that_is_no_longer_wanted_is_ended(monkeypatch):
    monkeypatch.setattr(jobs, "own_command", lambda options: (sys.executable, ["-c", "import time; time.sleep(60)"]))
    stopper = Stopper()
    stopper.stop()
    with pytest.raises(Stopped):
        asked_apart(Context(), ["stale"], stopper)
