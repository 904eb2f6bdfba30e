"""From a card's IDs to its families: modes, half-way states, variants, and what is said of each."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from catalogue.families.library import load
from catalogue.families.match import families_for
from catalogue.families.model import Family
from catalogue.families.shown import parse
from tests.families.sample import TEXT, planted

VARIANT = """schema = 1
id = "quay"
title = "Quay's board"
extends = "corvane-bittern"
subsystems = ["F567:0001"]
"""
CLOSE = planted(
    ('id = "corvane-bittern"', 'id = "zander"'),
    ('ids = ["F234:0C80"]', 'ids = ["F234:0C80/F567:0003", "F234:0C90"]'),
)


@pytest.fixture
def families(tmp_path: Path) -> Mapping[str, Family]:
    (tmp_path / "b.toml").write_text(TEXT)
    (tmp_path / "v.toml").write_text(VARIANT)
    (tmp_path / "z.toml").write_text(CLOSE)
    (tmp_path / "x.toml").write_text('id = "broken"\n[')
    return load([], tmp_path, {}).families


def found(text: str, families: Mapping[str, Family]) -> list[tuple[str, str]]:
    return [(one.id, one.mode) for one in families_for(parse(text), families)]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("F234:0C80/F567:0009", [("corvane-bittern", "raid")]),
        ("F234:0C81/F567:0009", [("corvane-bittern", "pass"), ("zander", "pass")]),
        ("F234:0C8F/F567:0009", [("corvane-bittern", "bare"), ("zander", "bare")]),
        ("F234:0C80/F567:0001", [("quay", "raid")]),
        ("F234:0C8F/F567:0001", [("quay", "bare"), ("zander", "bare")]),
        ("F234:0C80/F567:0003", [("zander", "raid"), ("corvane-bittern", "raid")]),
        ("F234:0C80", [("corvane-bittern", "raid"), ("quay", "raid"), ("zander", "raid")]),
        ("F234:0C90", [("zander", "raid")]),
        ("F234:0C99", []),
        ("F567:0C80", []),
        ("", []),
        ("F234:0C90\nF234:0C80/F567:0001\nF234:0C80/F567:0009\nF234:0C80/F567:0009",
         [("zander", "raid"), ("quay", "raid"), ("corvane-bittern", "raid")]),
    ],
)
def test_which_families_answer(families: Mapping[str, Family], text: str, wanted: list[tuple[str, str]]) -> None:
    assert found(text, families) == wanted


def test_why(families: Mapping[str, Family]) -> None:
    def why(text: str) -> dict[str, str]:
        return {one.id: one.why for one in families_for(parse(text), families.values())}

    assert why("F234:0C80/F567:0009") == {"corvane-bittern": "shows F234:0C80, the ID of mode raid"}
    assert why("F234:0C8F/F567:0001")["quay"] == (
        "shows F234:0C8F, the ID of a card half-way, after step scour with subsystem F567:0001"
    )
    assert why("F234:0C80")["quay"] == (
        "shows F234:0C80, the ID of mode raid; its subsystem was not shown, and this family is for certain subsystems "
        "only"
    )
    assert "subsystem" not in why("F234:0C80")["corvane-bittern"]
    assert why("F234:0C80/F567:0003")["zander"].endswith("with subsystem F567:0003")


def test_unsettled_families_stand_behind_and_say_so(tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "a.toml").write_text(planted(('id = "corvane-bittern"', 'id = "amber"')))
    (tmp_path / "b.toml").write_text(TEXT)
    matches = families_for(parse("F234:0C80"), load([tmp_path / "mine"], tmp_path, {}).families)
    assert [(one.id, one.title) for one in matches] == [
        ("corvane-bittern", "Corvane Bittern"), ("amber", "Corvane Bittern"),
    ]
    assert [one.why.endswith("; this family is not settled") for one in matches] == [False, True]
