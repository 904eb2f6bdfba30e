"""The battery of the target rules: each row as the contract has it, each with its manual and its test."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from catalogue.kits.rule import Weight
from catalogue.media.medium import Medium
from catalogue.media.target_rules import TARGET_RULES

# The Medium table of the contract for judging, by hand: code, level, source.
TABLE = {
    "name-clash": ("S", "ECMA-107"),
    "too-small": ("S", "FAT"),
    "line-too-long": ("S", "PSP"),
    "changed-since": ("S", "T MFST.TOCTOU"),
    "read-back-differs": ("S", "R SEC.AUTH.EXEC"),
    "shadowed": ("S", "CP"),
    "starts-itself": ("s", "UEFI Shell"),
    "stray": ("C", "in-toto"),
    "not-bootable": ("C", "UEFI"),
}
TESTS = Path(__file__).parents[1] / "media" / "test_target_rules.py"


def test_the_table_is_the_contracts():
    assert {one.code: (one.level.value, one.source) for one in TARGET_RULES} == TABLE
    assert len(TARGET_RULES) == len(TABLE)


@pytest.mark.parametrize("rule", TARGET_RULES, ids=lambda rule: rule.code)
def test_a_row_has_its_own_function_manual_title_and_remedy(rule):
    assert rule.check.__name__ == rule.code.replace("-", "_")
    assert re.search(r"^    Fine: \S", rule.manual, re.MULTILINE)
    assert re.search(r"(Refused|Caution)[^:]*: \S", rule.manual)
    assert rule.title
    assert rule.remedy.endswith(".")


@pytest.mark.parametrize("rule", TARGET_RULES, ids=lambda rule: rule.code)
def test_a_rule_is_silent_where_nothing_is_known(rule):
    assert list(rule.check(Medium(""))) == []


@pytest.mark.parametrize("rule", TARGET_RULES, ids=lambda rule: rule.code)
def test_a_rule_has_a_test_that_names_it(rule):
    assert f'"{rule.code}"' in TESTS.read_text(encoding="utf-8")


def test_only_the_contracts_small_s_may_be_cleared():
    assert [one.code for one in TARGET_RULES if one.level is Weight.CLEARABLE] == ["starts-itself"]
