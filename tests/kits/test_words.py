"""A person's word: one finding, one code, one content; nothing clears an S; never both on a written piece."""

from __future__ import annotations

import pytest

from catalogue.kits.piece_rules import PIECE_RULES
from catalogue.shapes.finding import Level
from catalogue.shapes.kit import Word
from tests.kits.host_plants import PLANTS
from tests.kits.plants import pinned_rom_of_vendor_zero
from tests.kits.world import bittern, chosen, finding, sha, stops

CLEARABLE = [one for one in PLANTS if one.clearable and one.code != "ambiguous"]
FIRM = [one for one in PLANTS if one.level is Level.STOP and not one.clearable]


@pytest.mark.parametrize("plant", CLEARABLE, ids=lambda plant: plant.name)
def test_a_word_changes_only_its_own_finding(plant):
    """ "a person's word changes only its own finding"."""
    scene = plant.make()
    guilty = plant.do(scene)
    before = scene.judge()
    scene.word(plant.code, guilty)
    after = scene.judge()
    assert after.verdict == "ready"
    assert chosen(after) == chosen(before)
    cleared = finding(after, plant.code, plant.role)
    assert cleared.level is Level.CAUTION
    assert (cleared.cleared_by.by, cleared.cleared_by.reason) == ("A. Bench", "checked by hand")
    rest = [{one for one in kit.findings if one.code != plant.code} for kit in (before, after)]
    assert rest[0] == rest[1]
    assert after.words == (Word(plant.code, guilty, "checked by hand", "A. Bench"),)
    assert before.words == ()
    assert after.id != before.id


@pytest.mark.parametrize("plant", FIRM, ids=lambda plant: plant.name)
def test_nothing_clears_an_s(plant):
    scene = plant.make()
    guilty = plant.do(scene)
    before = scene.judge()
    for one in before.findings:
        scene.word(one.code, one.piece or guilty or sha("x"))
    after = scene.judge()
    assert after.verdict == "not-ready"
    assert plant.code in {code for code, _, _ in stops(after)}


def test_a_word_for_another_content_or_code_clears_nothing():
    plant = next(one for one in CLEARABLE if one.code == "unvouched")
    scene = plant.make()
    guilty = plant.do(scene)
    before = scene.judge()
    scene.word("unvouched", sha("another"))
    scene.word("withdrawn", guilty)
    after = scene.judge()
    assert after == before


@pytest.mark.parametrize("codes", [("fit-unproved", "unvouched"), ("unvouched", "fit-unproved")])
def test_both_words_on_one_written_piece_clear_only_the_first(codes):
    """ "On one written piece `fit-unproved` and `unvouched` can never both be cleared"."""
    scene = bittern()
    guilty = pinned_rom_of_vendor_zero(scene)
    scene.change("ub", vouches=())
    assert {code for code, _, _ in stops(scene.judge())} == {"fit-unproved", "unvouched"}
    scene.word(codes[0], guilty)
    one = scene.judge()
    assert [code for code, _, _ in stops(one)] == [codes[1]]
    scene.word(codes[1], guilty)
    both = scene.judge()
    assert both.findings == one.findings
    assert both.verdict == "not-ready"


def test_both_words_on_a_piece_that_is_not_written_clear_both():
    scene = bittern()
    scene.edit_role("uefi-boot-rom", written=False)
    guilty = pinned_rom_of_vendor_zero(scene)
    scene.word("unvouched", guilty)
    scene.word("fit-unproved", guilty)
    assert scene.judge().verdict == "ready"


def test_of_two_words_for_one_finding_the_first_counts():
    plant = next(one for one in CLEARABLE if one.code == "withdrawn")
    scene = plant.make()
    guilty = plant.do(scene)
    scene.word("withdrawn", guilty)
    scene.words.append(Word("withdrawn", guilty, "again", "B. Bench"))
    kit = scene.judge()
    assert finding(kit, "withdrawn").cleared_by.by == "A. Bench"
    assert len(kit.words) == 1


def test_a_word_for_a_caution_or_note_changes_nothing():
    for plant in PLANTS:
        if plant.level is Level.STOP:
            continue
        scene = plant.make()
        guilty = plant.do(scene)
        before = scene.judge()
        scene.word(plant.code, guilty or sha("x"))
        assert scene.judge() == before


def test_only_the_tables_small_s_is_clearable():
    assert {one.code for one in PIECE_RULES if one.level == "s"} == {
        "image-hidden", "fit-unproved", "unvouched", "same-version-two-contents", "withdrawn", "tool-too-new",
        "driver-unsigned", "driver-other-ca", "driver-revoked", "key-withdrawn", "bench-refuses",
    }  # fmt: skip
