"""The demo as a person runs it: on a fresh folder, again, with things in its way, and with a piece missing."""

from __future__ import annotations

import json
import shlex
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from catalogue.cli.main import main
from catalogue.errors import BadCall, NotWorkable
from catalogue.shapes.as_json import as_text
from catalogue.tasks import demo, demo_story
from catalogue.tasks.context import Context

TODAY = date(2026, 3, 2)


@pytest.fixture(scope="module")
def played(tmp_path_factory):
    folder = tmp_path_factory.mktemp("played")
    context = Context(str(folder / "catalogue.db"), (), TODAY)
    return context, folder / "demo", demo.run(context, folder / "demo")


def test_it_comes_out_as_intended(played):
    _, _, done = played
    assert done.problems == ()
    assert done.as_intended
    assert done.kit.verdict == "ready"
    assert [(one.role, one.wanted) for one in done.refused] == list(demo.TEMPTATIONS)
    assert all(one.verdict == "not-ready" and one.wanted in one.codes and one.text for one in done.refused)
    assert done.write_out.read_back == done.read_back.read_back == "same"


def test_all_it_wrote_lies_under_its_folder(played):
    _, folder, done = played
    assert sorted(path.name for path in folder.iterdir()) == ["downloads", "medium"]
    laid = {path.name for path in (folder / "medium").rglob("*") if path.is_file()}
    assert {"KIT.JSN", "RUNSHEET.TXT", "SHA256.SUM"} <= laid
    assert done.medium == str(folder / "medium")


def test_the_story_is_short_and_says_what_matters(played):
    _, _, done = played
    story = "\n".join(done.lines)
    for text in ("Corvane Bittern", "ready", "other-mode", "blank", "wrong-size", "refused", "Read back", "Try next",
                 "kitproof --catalogue", "card maker"):
        assert text in story
    assert len(done.lines) < 60
    assert "Not as intended" not in story


def test_the_summary_is_json(played):
    _, _, done = played
    made = json.loads(as_text(done))
    assert made["as_intended"] is True
    assert made["kit"]["verdict"] == "ready"
    assert made["write_out"]["read_back"] == "same"


def test_played_again_it_keeps_its_files_and_comes_out_the_same(played):
    context, folder, done = played
    again = demo.run(context, folder)
    assert again.as_intended, again.problems
    assert (again.made, again.kept) == (0, done.made)
    assert again.kit.id == done.kit.id


def test_every_call_it_ends_with_works_as_typed(played, capsys):
    """All but the last, which opens the window."""
    _, _, done = played
    for call in done.try_next[:-1]:
        program, *arguments = shlex.split(call)
        assert program == "kitproof" or (Path(program).is_file() and Path(program).stem == "kitproof")
        assert main(arguments) == 0, (call, capsys.readouterr())
    assert any("--word unvouched=" in call for call in done.try_next)


def test_without_a_folder_it_uses_one_of_its_own_here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = demo.run(Context(str(tmp_path / "catalogue.db"), (), TODAY), None)
    assert done.as_intended, done.problems
    assert (tmp_path / "kitproof-demo" / "downloads").is_dir()


@pytest.mark.parametrize("whole", [True, False], ids=["whole", "spoilt"])
def test_the_command_says_by_its_exit_code_how_it_came_out(tmp_path, capsys, monkeypatch, whole):
    if not whole:
        monkeypatch.setattr(demo, "TEMPTATIONS", (("eeprom-image", "blank"),))
        monkeypatch.setattr(demo, "FAMILY", "corvane-heron")
        monkeypatch.setattr(demo, "wrong", lambda ran: ("something",))
    code = main(["--catalogue", str(tmp_path / "c.db"), "demo", "--json", str(tmp_path / "demo")])
    told = json.loads(capsys.readouterr().out)
    assert (code, told["as_intended"]) == ((0, True) if whole else (1, False))


def test_it_overwrites_nothing(tmp_path):
    mine = tmp_path / "demo" / "downloads" / "saltmarsh-stock.csv"
    mine.parent.mkdir(parents=True)
    mine.write_text("mine")
    with pytest.raises(BadCall, match=r"saltmarsh-stock\.csv"):
        demo.run(Context(str(tmp_path / "catalogue.db"), (), TODAY), tmp_path / "demo")
    assert mine.read_text() == "mine"
    assert [path.name for path in mine.parent.iterdir()] == ["saltmarsh-stock.csv"]


@pytest.mark.parametrize("inside", ["demo", "demo/downloads", "demo/medium"])
def test_a_file_in_its_way_is_a_bad_call(tmp_path, inside):
    path = tmp_path / inside
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("mine")
    with pytest.raises(BadCall, match="not a folder"):
        demo.run(Context(str(tmp_path / "catalogue.db"), (), TODAY), tmp_path / "demo")
    assert path.read_text() == "mine"


def test_a_disk_that_refuses_is_not_workable(tmp_path, monkeypatch):
    def refuse(folder):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(demo, "make", refuse)
    with pytest.raises(NotWorkable, match="No space left"):
        demo.run(Context(str(tmp_path / "catalogue.db"), (), TODAY), tmp_path / "demo")


def test_its_verdict_on_itself_can_fail(played):
    """Each answer spoilt in turn must be seen: the demo's `as_intended` is no canned word."""
    _, folder, done = played
    made = demo.make(folder / "downloads")
    ran = demo.Ran(folder, made, done.index, done.kit, done.refused, done.write_out, done.read_back)
    assert demo.wrong(ran) == ()
    bad_refusal = replace(done.refused[0], codes=("unvouched",))
    taken = replace(done.refused[0], verdict="ready")
    spoilt = [
        replace(ran, indexed=replace(done.index, files=3)),
        replace(ran, indexed=replace(done.index, named_unreadable=True)),
        replace(ran, good=replace(done.kit, verdict="not-ready")),
        replace(ran, good=replace(done.kit, roles=(replace(done.kit.roles[0], pieces=("0" * 64,)),))),
        replace(ran, good=replace(done.kit, roles=(replace(done.kit.roles[0], pieces=()),))),
        replace(ran, refused=(bad_refusal,)),
        replace(ran, refused=(taken,)),
        replace(ran, written=None),
        replace(ran, written=replace(done.write_out, files=done.write_out.files[:1])),
        replace(ran, written=replace(done.write_out, read_back="differs")),
        replace(ran, written=replace(done.write_out, kit=replace(done.kit, id="another"))),
        replace(ran, again=None),
        replace(ran, again=replace(done.read_back, read_back="differs")),
    ]
    for one in spoilt:
        problems = demo.wrong(one)
        assert problems
        assert any("Not as intended" in line for line in demo_story.lines(one, problems, ()))


def test_a_missing_piece_shows_as_not_intended(tmp_path, monkeypatch):
    """The real thing, not a value: the release without its EEPROM images, and the demo says so itself."""
    from sample_bundles import make as making
    from sample_bundles.scene import scene

    less = []
    for item in scene():
        members = item.members
        if item.name.startswith("bittern-12.04.0") and item.cut is None:
            members = tuple(one for one in item.members if "CFG" not in one.name)
        less.append(replace(item, members=members))
    monkeypatch.setattr(making, "scene", lambda: tuple(less))
    done = demo.run(Context(str(tmp_path / "catalogue.db"), (), TODAY), tmp_path / "demo")
    assert not done.as_intended
    assert done.write_out is None
    assert any("eeprom-image" in one for one in done.problems)
    assert any("Nothing was written out" in line for line in done.lines)
