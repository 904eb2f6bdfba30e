"""A sample of the campaign in every test run: none comes out ready, each raises the code its class names."""

from __future__ import annotations

import pytest

from tests.campaign import run, without_rules
from tests.campaign.court import Court
from tests.campaign.grounds import GROUNDS
from tests.campaign.mutant import Outcome

SEED = 20_260_302
PARTS = 6
EACH = 30


@pytest.mark.parametrize("part", range(PARTS))
def test_no_mutant_comes_out_ready_and_each_is_named(part: int) -> None:
    drawn = sorted(run.recipes(PARTS * EACH, SEED), key=lambda one: (one.ground, one.role))
    outcomes = list(run.judged(drawn[part * EACH :][:EACH], 1))
    assert len(outcomes) == EACH
    assert not [_told(one) for one in outcomes if one.ready]
    assert not [_told(one) for one in outcomes if not one.hit]


def _told(one: Outcome) -> str:
    return f"{one.recipe} ({one.note}): wanted {one.want}, raised {one.codes}"


@pytest.mark.parametrize("code", ["below-lowest", "foreign-identity", "tool-too-old"])
def test_with_its_rule_switched_off_a_mutant_comes_out_ready(code: str) -> None:
    """`python -m tests.campaign.without_rules` does so for all rules that have a class here."""
    outcomes = without_rules.tried(code, without_rules.by_code(5, 4_000)[code], 2)
    assert len(outcomes) == 2
    assert all(one.ready and code not in one.codes for one in outcomes)


@pytest.mark.parametrize("ground", GROUNDS)
def test_the_sound_pieces_of_every_ground_are_ready(tmp_path, ground: str) -> None:
    shown = Court(tmp_path, ground, "firmware").sound()
    assert shown.verdict == "ready", [one.code for one in shown.findings]
    assert all(choice.pieces for choice in shown.roles if choice.needed)
