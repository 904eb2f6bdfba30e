"""Why not this one: the answer goes the judge's way, and every answer shows what made it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.kits.asked import ask
from catalogue.kits.criteria import NO, SILENT, YES
from catalogue.kits.explaining import explain
from catalogue.kits.images import images_of
from catalogue.kits.near import is_near
from catalogue.kits.nearness import asked_of
from catalogue.shapes.finding import Level
from catalogue.shapes.reading import Fault
from tests.kits.host_plants import PLANTS
from tests.kits.plants import Plant
from tests.kits.world import SCENES, Scene, bittern, found, heron, named, piece, plover, sha


def planted(one: Plant) -> Scene:
    scene = one.make()
    one.do(scene)
    return scene


SCENE = st.one_of(st.sampled_from(list(SCENES.values())).map(lambda make: make()),
                  st.sampled_from(PLANTS).map(planted))  # fmt: skip


def why(scene: Scene, role: str, sha256: str):
    return explain(scene.question(), [(role, sha256)])[0]


@settings(max_examples=60, deadline=None)
@given(scene=SCENE)
def test_it_says_what_the_kit_says_and_is_near_where_the_judge_finds_it_near(scene):
    question, kit = scene.question(), scene.judge()
    asked = ask(question)
    wishes = [(role, one) for role in asked.wanted for one in asked.candidates]
    chosen = {(role.role, role.pieces[0]) for role in kit.roles if role.pieces}
    others = {(role.role, other.piece): other.why for role in kit.roles for other in role.others}
    for one in explain(question, wishes):
        key = (one.role, one.piece)
        assert (one.stands == "chosen") == (key in chosen)
        assert (one.stands == "not-near") == (key not in chosen and key not in others)
        assert one.why == others.get(key, ())
        assert one.text and one.nearness
        assert all(asking.evidence and asking.says in (YES, NO, SILENT) for asking in (*one.nearness, *one.fit))
        wanted, candidate = asked.wanted[one.role], asked.candidates[one.piece]
        images = images_of(candidate.reading)
        near = is_near(asked, wanted, candidate, images)
        assert near == any(asking.says == YES for asking in asked_of(asked, wanted, candidate, images))
        if one.stands in ("waiting", "miss"):
            assert one.stops and all(stop.level is Level.STOP and stop.evidence for stop in one.stops)


def test_an_older_one_says_than_which_and_by_which_order():
    scene = bittern()
    one = why(scene, "firmware", sha("fw-11"))
    assert (one.stands, one.why, one.than) == ("candidate", ("older",), (sha("fw-12"),))
    assert one.text == "fw-11 is version 11.00.0; fw-12 is 12.04.0, newer by the order numeric."


def test_a_tie_says_with_which():
    scene = bittern()
    scene.pieces["second"] = replace(scene.pieces["ee"], sha256=sha("second"))
    one = why(scene, "eeprom-image", sha("ee-1"))
    assert (one.why, one.than) == (("tie",), (sha("second"),))


def test_a_stopped_one_shows_the_bytes():
    scene = bittern()
    damaged = (Fault("rom-damaged", "The bytes sum to 01h.", 2),)
    scene.change("ub", reading=replace(scene.pieces["ub"].reading, faults=damaged))
    one = why(scene, "uefi-boot-rom", sha("ub-1"))
    assert (one.stands, one.why) == ("miss", ("rom-damaged",))
    assert (one.stops[0].code, one.stops[0].evidence[0].offset) == ("rom-damaged", 2)


@pytest.mark.parametrize("make", [bittern, heron, plover])
def test_a_piece_that_is_not_near_is_asked_everything(make):
    scene = make()
    scene.pieces["holiday"] = piece("holiday.jpg", size=999)
    one = why(scene, "firmware", sha("holiday.jpg"))
    assert one.stands == "not-near"
    assert {asking.says for asking in one.nearness} == {SILENT}
    assert [asking.what for asking in one.nearness][:2] == ["pin", "hash"]


def test_a_rom_of_another_card_says_which_bytes_said_no():
    scene = bittern()
    one = why(scene, "legacy-boot-rom", scene.pieces["fw"].sha256)
    assert one.stands == "not-near"
    scene.pieces["other"] = plover().pieces["rom"]
    asking = {one.what: one for one in why(scene, "legacy-boot-rom", scene.pieces["other"].sha256).nearness}
    assert asking["ids"].says == NO
    assert asking["ids"].evidence[0].offset is not None
    assert "F567" in asking["ids"].text


def test_an_archive_is_never_asked_further():
    scene = bittern()
    scene.pieces["zip"] = piece("all.zip", "archive/zip", matches=found("BITTERN PT"), vouches=(named(),))
    one = why(scene, "firmware", sha("all.zip"))
    assert [(asking.what, asking.says) for asking in one.nearness] == [("pin", SILENT), ("archive", NO)]


def test_a_role_or_piece_that_is_not_asked_about_is_an_error():
    with pytest.raises(KeyError):
        why(bittern(), "firmware", sha("nowhere"))
