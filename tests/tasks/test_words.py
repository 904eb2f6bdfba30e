"""Words on record: listed with who, when and why, taken back, and what has changed since, on a real catalogue."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from catalogue.cli import main
from catalogue.errors import BadCall
from catalogue.kits import kit_id
from catalogue.shapes.changes import Changes
from catalogue.shapes.kit import Pin, Word
from catalogue.tasks import accept_family, index, kit, words
from catalogue.tasks.context import Context, today_utc

FAMILY = "corvane-bittern-own"
SHIPPED = Path(__file__).parents[2] / "resources" / "families" / "corvane-bittern.toml"


@pytest.fixture
def bench(tmp_path: Path) -> tuple[Context, Path, str]:
    """A catalogue with one firmware that nothing vouches for, and a family of the user's own: (context, file, hash)."""
    from sample_bundles import bittern

    families, folder = tmp_path / "families", tmp_path / "in"
    families.mkdir()
    folder.mkdir()
    file = families / "own.toml"
    file.write_text(SHIPPED.read_text(encoding="utf-8").replace('"corvane-bittern"', f'"{FAMILY}"'), encoding="utf-8")
    data = bittern.controller("12.04.0", 0x0C81)[:-1] + b"\x01"
    (folder / "fw.bin").write_bytes(data)
    context = Context(str(tmp_path / "c.sqlite"), (families,), today=today_utc())
    index.run(context, [folder])
    assert accept_family.run(context, file).settled
    return context, file, hashlib.sha256(data).hexdigest()


def give(context, sha256, reason="seen to run on card 12", by="Mara Quill"):
    assert words.give(context, FAMILY, "unvouched", sha256, reason, by) == Changes(words=True)


def test_a_word_is_listed_with_who_when_why_and_where(bench):
    context, _file, sha256 = bench
    assert words.listed(context, FAMILY) == []
    give(context, sha256)
    (one,) = words.listed(context, FAMILY)
    assert (one.code, one.sha256, one.reason, one.by) == ("unvouched", sha256, "seen to run on card 12", "Mara Quill")
    assert one.at[:10] == today_utc().isoformat() and one.place.endswith("fw.bin")
    assert one.changed == ()


def test_a_word_is_taken_back_and_clears_no_more(bench):
    context, _file, sha256 = bench
    give(context, sha256)
    assert words.take_back(context, FAMILY, "unvouched", sha256[:8]) == Changes(words=True)
    assert words.listed(context, FAMILY) == []
    with pytest.raises(BadCall, match="No word"):
        words.take_back(context, FAMILY, "unvouched", sha256)
    assert kit.run(context, FAMILY).words == ()


def test_an_edited_family_file_shows_at_the_word(bench):
    context, file, sha256 = bench
    give(context, sha256)
    file.write_text(file.read_text(encoding="utf-8") + "\n# looked at again\n", encoding="utf-8")
    (one,) = words.listed(context, FAMILY)
    assert len(one.changed) == 1 and "The family file has changed since" in one.changed[0]
    assert "accepted on" not in one.changed[0]
    accept_family.run(context, file)
    assert "accepted on" in words.listed(context, FAMILY)[0].changed[0]
    give(context, sha256, "looked at again")
    assert words.listed(context, FAMILY)[0].changed == ()


def test_other_rules_show_at_the_word(bench, monkeypatch):
    context, _file, sha256 = bench
    give(context, sha256)
    monkeypatch.setattr(words, "RULES_VERSION", kit_id.RULES_VERSION + 1)
    assert "The rules have changed since" in words.listed(context, FAMILY)[0].changed[0]


def test_other_bytes_at_the_place_show_and_the_word_does_not_carry_to_them(bench, tmp_path):
    context, _file, sha256 = bench
    give(context, sha256)
    data = (tmp_path / "in" / "fw.bin").read_bytes()
    (tmp_path / "in" / "fw.bin").write_bytes(data[:-1] + b"\x02")
    index.run(context, [tmp_path / "in"])
    said = " ".join(words.listed(context, FAMILY)[0].changed)
    assert "Other bytes lie at" in said and "lie nowhere" in said
    judged = kit.run(context, FAMILY)
    assert judged.words == ()
    assert not any(one.cleared_by for one in judged.findings)


def test_a_word_over_a_year_old_stands_out_in_the_kit_that_it_counts_in(bench):
    context, _file, sha256 = bench
    give(context, sha256)
    pins = [Pin("firmware", sha256, "the only one here")]
    fresh = kit.run(context, FAMILY, pins=pins)
    assert [one.code for one in fresh.words] == ["unvouched"]
    assert not any(one.startswith("The word of") for one in fresh.said)
    later = replace(context, today=today_utc() + timedelta(days=400))
    (said,) = [one for one in kit.run(later, FAMILY, pins=pins).said if one.startswith("The word of Mara Quill")]
    assert "over a year old" in said and "unvouched" in said


def test_a_word_of_before_says_that_what_stood_is_not_known(bench):
    from catalogue.store import Store

    context, _file, sha256 = bench
    with Store.open(context.catalogue) as store:
        store.give_word(FAMILY, Word("unvouched", sha256, "why", "Ann"))
    assert "not on record" in words.listed(context, FAMILY)[0].changed[0]


def test_the_command_lists_and_takes_back(bench, capsys):
    context, file, sha256 = bench
    give(context, sha256)
    call = ["--catalogue", str(context.catalogue), "--families", str(file.parent), "words", FAMILY]
    assert main([*call, "--json"]) == 0
    (one,) = json.loads(capsys.readouterr().out)
    assert (one["code"], one["by"], one["changed"]) == ("unvouched", "Mara Quill", [])
    assert main(call) == 0
    assert "seen to run on card 12" in capsys.readouterr().out
    assert main([*call, "--take-back", "unvouched"]) == 2
    assert main([*call, "--take-back", f"unvouched={sha256[:10]}"]) == 0
    assert "No word is on record" in capsys.readouterr().out
    assert main([*call, "--take-back", f"unvouched={sha256[:10]}"]) == 2
