"""`stale` on the demo: the old release beside the new one, the withdrawn one, and a kit that was written with one."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

import pytest

from catalogue.cli import main
from catalogue.shapes.kit import Pin
from catalogue.tasks import demo, kit, stale, write_out, written
from catalogue.tasks.context import Context

FAMILY = "corvane-bittern"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("stale")
    context = Context(str(folder / "c.sqlite"), today=date(2026, 4, 1))
    demo.run(context, folder / "demo")
    return context, folder


def test_the_old_and_the_withdrawn_are_listed_with_what_is_newer(made):
    context, _folder = made
    rows = [one for one in stale.run(context) if one.family == FAMILY and one.role == "firmware"]
    ages = {one.has: one.age for one in rows if not one.what.startswith("kit ")}
    assert ages["11.02.0"] == "stale"
    assert ages["12.02.0"] == "withdrawn"
    assert "12.04.0" not in ages
    assert {one.newest for one in rows} == {"12.04.0"}
    assert any("drops its link" in one.why for one in rows if one.age == "withdrawn")
    assert all(one.as_of == date(2026, 3, 1) for one in rows)


def test_a_kit_written_with_an_old_piece_is_listed(made):
    context, folder = made
    old = next(one for one in stale.run(context) if one.family == FAMILY and one.has == "11.02.0")
    pin = Pin("firmware", old.piece, "the bench has used it for a year")
    judged = kit.run(context, FAMILY, pins=[pin])
    medium = folder / "stick"
    medium.mkdir()
    if judged.verdict != "ready":
        from catalogue.shapes.kit import Word

        words = [
            Word(one.code, one.piece or "", "known here", "A. Bench")
            for one in judged.findings
            if one.level.value == "stop" and one.clearable
        ]
        judged = kit.run(context, FAMILY, pins=[pin], words=words)
    assert judged.verdict == "ready", [one.text for one in judged.findings]
    assert write_out.run(context, FAMILY, medium, pins=[pin]).read_back == "same"
    (row,) = [one for one in stale.run(context) if one.what.startswith("kit ") and one.has == "11.02.0"]
    assert str(medium) in row.what and judged.id[:12] in row.what
    assert (row.kit, row.target) == (judged.id, str(medium)) and row.when
    first = written.run(context)[0]
    assert (first.kit, first.family, first.target, first.when) == (judged.id, FAMILY, str(medium), row.when)


def test_the_command_line(made, capsys):
    context, _folder = made
    assert main(["--catalogue", str(context.catalogue), "stale", "--json"]) == 1
    rows = json.loads(capsys.readouterr().out)
    assert {"what", "has", "newest", "why"} <= set(rows[0])
    assert main(["--catalogue", str(context.catalogue), "stale"]) == 1
    assert "known as of 2026-03-01" in capsys.readouterr().out


def test_an_empty_catalogue_has_nothing_stale(tmp_path, capsys):
    assert main(["--catalogue", str(tmp_path / "c.sqlite"), "stale"]) == 0
    out = capsys.readouterr().out
    assert "Nothing held" in out and "corvane-bittern, known as of 2026-03-01: nothing stale" in out
    assert stale.run(replace(Context(), catalogue=str(tmp_path / "c.sqlite"))) == []
