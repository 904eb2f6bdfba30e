"""Each rule: the fault planted in a sound kit gives the exact code, role and evidence, and nothing else fires."""

from __future__ import annotations

import pytest

from catalogue.kits import kit_rules, piece_rules
from catalogue.kits.kit_rules import KIT_RULES
from catalogue.kits.piece_rules import PIECE_RULES
from catalogue.shapes.finding import Level
from tests.kits.host_plants import PLANTS
from tests.kits.world import all_of

CONTRACT = {
    # judging.md, the tables "Piece and fit", "Vouching and time", "Utilities and kit", as far as this program has them
    "rom-damaged": "S", "rom-odd": "N", "image-hidden": "s", "blank": "S", "wrong-kind": "S", "bytes-swapped": "S",
    "archive-damaged": "S", "data-after-end": "C", "name-disagrees": "N", "other-family": "S", "other-mode": "S",
    "images-disagree": "S", "fit-unproved": "s", "class-differs": "C", "wrong-cpu": "S", "wrong-size": "S",
    "foreign-identity": "S", "eeprom-sum": "S", "package-no-match": "S",
    "contradicted": "S", "unvouched": "s", "neighbour-only": "C", "digest-weak": "N", "same-version-two-contents": "s",
    "version-unread": "C", "mixed-release": "s", "release-unknown": "C", "below-lowest": "S", "stale": "C",
    "withdrawn": "s", "beyond-known": "C", "knowledge-old": "N", "last-attempt-failed": "C",
    "older-than-card": "C",
    "signature-broken": "S", "driver-unsigned": "s", "driver-other-ca": "s", "driver-revoked": "s",
    "key-withdrawn": "s",
    "other-bench": "S", "tool-too-old": "S", "tool-too-new": "s", "companion-missing": "S", "role-empty": "S",
    "left-out": "N", "ambiguous": "s", "pin-broken": "S", "never-ran": "C", "not-taught": "N", "not-checked": "C",
    "family-unsettled": "S", "bench-refuses": "s", "wrong-start": "S", "wrong-revision": "S",
}  # fmt: skip
RULES = (*PIECE_RULES, *KIT_RULES)


def test_the_tables_hold_the_contracts_rules_once_each_at_its_level():
    assert {rule.code: rule.level.value for rule in RULES} == CONTRACT
    assert len(RULES) == len(CONTRACT)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.code)
def test_every_rule_has_a_manual_with_a_fine_and_a_refused_case(rule):
    assert "\n    Fine: " in rule.manual
    assert "\n    Refused" in rule.manual
    assert rule.title and rule.remedy.endswith(".") and rule.source


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.code)
def test_every_rule_has_a_fault_planted(rule):
    assert any(plant.code == rule.code for plant in PLANTS)


@pytest.mark.parametrize("plant", PLANTS, ids=lambda plant: plant.name)
def test_a_planted_fault_is_found_and_nothing_else_fires(plant):
    sound = plant.make()
    before = sound.judge()
    assert before.verdict == "ready"
    scene = plant.make()
    guilty = plant.do(scene)
    after = scene.judge()
    new = [one for one in after.findings if (one.code, one.role, one.piece) not in all_of(before)]
    assert {(one.code, one.role) for one in new} == {(plant.code, plant.role), *plant.also}
    mine = [one for one in new if (one.code, one.role, one.piece) == (plant.code, plant.role, guilty)]
    assert len(mine) == 1
    assert (mine[0].level, mine[0].clearable) == (plant.level, plant.clearable)
    assert plant.field in {one.field for one in mine[0].evidence}
    assert all(one.place for one in mine[0].evidence)
    assert after.verdict == ("not-ready" if plant.level is Level.STOP else "ready")
    assert all(one.piece is not None for one in after.findings if one.clearable)


@pytest.mark.parametrize("plant", PLANTS, ids=lambda plant: plant.name)
def test_with_the_rule_switched_off_its_fault_survives(plant, monkeypatch):
    monkeypatch.setattr(piece_rules, "PIECE_RULES", tuple(one for one in PIECE_RULES if one.code != plant.code))
    monkeypatch.setattr(kit_rules, "KIT_RULES", tuple(one for one in KIT_RULES if one.code != plant.code))
    scene = plant.make()
    plant.do(scene)
    assert plant.code not in {one.code for one in scene.judge().findings}


@pytest.mark.parametrize("plant", PLANTS, ids=lambda plant: plant.name)
def test_rules_in_any_order_find_the_same(plant, monkeypatch):
    scene = plant.make()
    plant.do(scene)
    straight = {(one.code, one.role, one.piece, one.level, one.text, one.evidence) for one in scene.judge().findings}
    monkeypatch.setattr(piece_rules, "PIECE_RULES", PIECE_RULES[::-1])
    monkeypatch.setattr(kit_rules, "KIT_RULES", KIT_RULES[::-1])
    turned = {(one.code, one.role, one.piece, one.level, one.text, one.evidence) for one in scene.judge().findings}
    assert straight == turned
