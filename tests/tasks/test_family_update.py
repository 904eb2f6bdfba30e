"""A new text of an accepted family: what it changes in values and kits is said before and with its accepting."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from catalogue.cli import main
from catalogue.shapes.results import FamilyUpdate
from catalogue.tasks import accept_family, families, index, write_out
from catalogue.tasks.context import Context
from catalogue.tasks.settings import shipped_families
from sample_bundles import bittern

TEXT = (shipped_families() / "corvane-bittern.toml").read_text(encoding="utf-8").replace('"corvane-bittern"', '"mine"')


@pytest.fixture
def file(tmp_path: Path) -> Path:
    (tmp_path / "families").mkdir()
    made = tmp_path / "families" / "mine.toml"
    made.write_text(TEXT, encoding="utf-8")
    return made


@pytest.fixture
def context(tmp_path: Path, file: Path) -> Context:
    downloads = tmp_path / "downloads"
    downloads.mkdir()
    (downloads / "twelve.zip").write_bytes(bittern.release_twelve().data)
    made = Context(str(tmp_path / "catalogue.sqlite"), (file.parent,))
    index.run(made, [downloads])
    return made


def changed(context: Context, file: Path, *changes: tuple[str, str]) -> FamilyUpdate | None:
    text = TEXT
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    file.write_text(text, encoding="utf-8")
    return accept_family.run(context, file, only_look=True).update


def test_nothing_was_accepted_before(context: Context, file: Path) -> None:
    assert accept_family.run(context, file).update is None
    assert accept_family.run(context, file).update is None


def test_a_withdrawn_version_takes_a_kit_s_readiness(context: Context, file: Path) -> None:
    assert accept_family.run(context, file).settled
    update = changed(context, file, ('version = "12.02.0"', 'version = "12.04.0"'))
    assert update is not None
    assert [(one.path.partition("[")[0], one.was, one.now) for one in update.changes] == [
        ("withdrawn", "12.02.0", "12.04.0")
    ]
    verdicts = {(one.route, one.was, one.now) for one in update.kits if one.what == "verdict"}
    assert verdicts == {("raid-to-pass-dos", "ready", "not-ready"), ("raid-to-pass-uefi", "ready", "not-ready")}
    assert any(one.what == "stops" and "withdrawn" in one.now for one in update.kits)
    assert not {one.id: one.settled for one in families.run(context)}["mine"], "looking accepts nothing"


def test_a_remark_changes_nothing(context: Context, file: Path) -> None:
    accept_family.run(context, file)
    update = changed(context, file, ("schema = 1", "# more\nschema = 1"))
    assert update is not None
    assert (update.changes, update.kits) == ((), ())


def test_a_route_that_goes_and_kits_that_were_written(context: Context, file: Path, tmp_path: Path) -> None:
    accept_family.run(context, file)
    (tmp_path / "stick").mkdir()
    assert write_out.run(context, "mine", tmp_path / "stick").read_back == "same"
    update = changed(context, file, ('id = "raid-to-pass-uefi"', 'id = "other"'))
    assert update is not None
    assert {(one.route, one.was, one.now) for one in update.kits} == {
        ("raid-to-pass-uefi", "ready", "no such route"), ("other", "no such route", "ready"),
    }  # fmt: skip
    assert update.written == (str(tmp_path / "stick"),)


def test_it_is_compared_with_what_was_accepted_last(context: Context, file: Path) -> None:
    accept_family.run(context, file)
    changed(context, file, ("flash = 8_388_608", "flash = 4_194_304"))
    done = accept_family.run(context, file)
    assert done.settled
    assert done.update is not None
    assert [one.path for one in done.update.changes] == ["card.flash"]
    assert accept_family.run(context, file).update is None


def test_the_command_line_shows_it(context: Context, file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    accept_family.run(context, file)
    changed(context, file, ('version = "12.02.0"', 'version = "12.04.0"'))
    words = ["--catalogue", str(context.catalogue), "--families", str(file.parent), "accept-family", str(file)]
    assert main([*words, "--look-only"]) == 0
    said = capsys.readouterr().out
    assert "12.02.0 is now 12.04.0" in said
    assert "raid-to-pass-dos, verdict: ready before, now not-ready" in said
    assert main([*words, "--look-only", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["settled"] is False
    assert told["update"]["changes"][0]["now"] == "12.04.0"
    assert main(words) == 0
    assert "12.02.0 is now 12.04.0" in capsys.readouterr().out


def test_families_say_what_a_variant_changes(context: Context, file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (file.parent / "variant.toml").write_text(
        'schema = 1\nid = "college"\ntitle = "C"\nas_of = 2026-03-01\nextends = "mine"\nsubsystems = ["F234:5A01"]\n'
        '[identity.serial]\nfind = "Number ~ {value}"\n', encoding="utf-8",
    )  # fmt: skip
    words = ["--catalogue", str(context.catalogue), "--families", str(file.parent), "families"]
    assert main(words) == 0
    said = capsys.readouterr().out
    assert "college stands on mine and changes:" in said
    assert "identity.serial.find: Hull number ~ {value} is now Number ~ {value} (line 8)" in said
    assert main([*words, "--json"]) == 0
    told = {one["id"]: one for one in json.loads(capsys.readouterr().out)}
    assert told["college"]["extends"] == "mine"
    assert told["college"]["changes"][0]["path"] == "identity.serial.find"
    assert told["mine"]["changes"] == []
