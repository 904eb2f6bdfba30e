"""A rule that raises is itself a stop, and a kit that nothing stopped must still be earned."""

from __future__ import annotations

from dataclasses import replace

import pytest

from catalogue.kits import kit_rules, piece_rules, weigh
from catalogue.kits.kit_rules import KIT_RULES
from catalogue.kits.piece_rules import PIECE_RULES
from catalogue.kits.rule import Hit, Rule, Weight
from catalogue.shapes.finding import Evidence, Level
from catalogue.shapes.reading import Reading
from tests.kits.host_plants import PLANTS
from tests.kits.world import bittern, choice, finding, sha, stops


def raises(_case):
    raise RuntimeError("planted")
    yield  # pragma: no cover


@pytest.mark.parametrize("place", range(len(PIECE_RULES)))
def test_a_piece_rule_that_raises_stops_the_piece(place, monkeypatch):
    rules = list(PIECE_RULES)
    rules[place] = replace(rules[place], check=raises)
    monkeypatch.setattr(piece_rules, "PIECE_RULES", tuple(rules))
    kit = bittern().judge()
    assert kit.verdict == "not-ready"
    failed = [one for one in kit.findings if one.code == "rule-failed"]
    assert failed
    assert all(one.level is Level.STOP and not one.clearable for one in failed)
    assert all(one.evidence[0].field == rules[place].code and "planted" in one.evidence[0].have for one in failed)


@pytest.mark.parametrize("place", range(len(KIT_RULES)))
def test_a_kit_rule_that_raises_stops_the_kit(place, monkeypatch):
    rules = list(KIT_RULES)
    rules[place] = replace(rules[place], check=raises)
    monkeypatch.setattr(kit_rules, "KIT_RULES", tuple(rules))
    kit = bittern().judge()
    assert stops(kit) == [("rule-failed", None, None)]
    assert rules[place].code in finding(kit, "rule-failed").text


def test_a_rule_that_raises_on_one_piece_stops_that_piece_alone(monkeypatch):
    def sometimes(case):
        if case.sha256 == sha("fw-12"):
            raise ValueError("planted")
        return iter(())

    monkeypatch.setattr(piece_rules, "PIECE_RULES", (replace(PIECE_RULES[0], check=sometimes), *PIECE_RULES[1:]))
    kit = bittern().judge()
    assert kit.verdict == "ready"
    assert choice(kit, "firmware").version == "11.00.0"


@pytest.mark.parametrize("name", ["is_near", "case_of"])
def test_criteria_that_raise_stop_the_piece(name, monkeypatch):
    real = getattr(weigh, name)

    def sometimes(asked, wanted, candidate, *rest):
        if candidate.sha256 == sha("ee-1") and wanted.role.name == "eeprom-image":
            raise KeyError("planted")
        return real(asked, wanted, candidate, *rest)

    monkeypatch.setattr(weigh, name, sometimes)
    kit = bittern().judge()
    assert set(stops(kit)) >= {("rule-failed", "eeprom-image", sha("ee-1")), ("role-empty", "eeprom-image", None)}


GAPS = {"role-empty": "needed and empty", "ambiguous": "needed and empty", "unvouched": "not vouched for",
        "fit-unproved": "fit is not proved", "other-mode": "fit is not proved", "wrong-size": "fit is not proved",
        "companion-missing": "is missing"}  # fmt: skip


@pytest.mark.parametrize("plant", [one for one in PLANTS if one.code in GAPS], ids=lambda plant: plant.name)
def test_ready_is_earned_even_where_a_rule_is_lacking(plant, monkeypatch):
    """Without its rule the fault is still no reason to call the kit ready."""
    scene = plant.make()
    plant.do(scene)
    monkeypatch.setattr(piece_rules, "PIECE_RULES", tuple(one for one in PIECE_RULES if one.code != plant.code))
    monkeypatch.setattr(kit_rules, "KIT_RULES", tuple(one for one in KIT_RULES if one.code != plant.code))
    kit = scene.judge()
    if plant.code == "ambiguous" and plant.field == "QHXTEND.BIN":
        return
    assert kit.verdict == "not-ready"
    if all(one.code == "rule-failed" for one in kit.findings if one.level is Level.STOP):
        assert GAPS[plant.code] in " ".join(one.text for one in kit.findings if one.code == "rule-failed")


def test_a_hit_may_carry_its_own_remedy_and_weight():
    hit = Hit("It is so.", (Evidence("here"),), Weight.NOTE, "role", sha("x"), "Do this.")
    rule = Rule("a-rule", Weight.STOP, lambda _case: iter((hit,)), "Title", "Do that.", "CP")
    from catalogue.kits.rule import run

    (found,) = run(rule, None, "other", sha("y"))
    assert (found.level, found.role, found.piece, found.remedy) == (Level.NOTE, "role", sha("x"), "Do this.")
    assert rule.manual == ""


def test_a_reading_of_no_parts_is_one_image_of_nobody():
    from catalogue.kits.images import images_of

    (one,) = images_of(Reading("option-rom", "option-rom/isa", "ISA"))
    assert (one.vendor, one.cards, one.field("vendor_id").offset) == (None, frozenset(), 0)
