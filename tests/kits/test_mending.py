"""What would make it ready: every proposal is judged ready, no part of one is, and what is told agrees with the world.

The proofs judge the whole question again; the search itself judges one that leaves out what is near no role.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from catalogue.kits.changes import changed
from catalogue.kits.judge import judge
from catalogue.kits.mending import mend
from catalogue.shapes.finding import Level
from catalogue.shapes.kit import Pin, Word
from catalogue.shapes.mending import ChangeKind
from catalogue.shapes.piece import Contradiction
from tests.kits.host_plants import PLANTS, card, line
from tests.kits.plants import Plant
from tests.kits.world import SCENES, Scene, bittern, layout_answer, named, piece, sha

STOPPING = [one for one in PLANTS if one.level is Level.STOP]
FEW = settings(max_examples=20, deadline=None)
AGAINST = Contradiction("/in/MD5SUMS", 4, "md5", "0" * 32, "1" * 32, "fw.bin")


def planted(*plants: Plant) -> Scene:
    scene = plants[0].make()
    for one in plants:
        one.do(scene)
    return scene


@st.composite
def broken(draw: st.DrawFn) -> Scene:
    """A scene with up to three faults, and pieces taken away."""
    first = draw(st.sampled_from(STOPPING))
    more = draw(st.lists(st.sampled_from([one for one in STOPPING if one.make is first.make]), max_size=2))
    try:
        scene = planted(first, *more)
    except (KeyError, IndexError):
        assume(False)
        raise
    for key in draw(st.lists(st.sampled_from(sorted(scene.pieces)), max_size=2)):
        scene.pieces.pop(key, None)
    return scene


@FEW
@given(scene=broken())
def test_every_proposal_is_ready_and_no_part_of_it_is(scene):
    question = scene.question()
    kit = judge(question)
    found = mend(question)
    if kit.verdict == "ready":
        assert found.proposals == ()
        return
    assert bool(found.proposals) != bool(found.stuck)
    for proposal in found.proposals:
        assert judge(changed(question, proposal.changes)).verdict == "ready"
        assert proposal.least == (len(proposal.changes) <= 6)
        for size in range(min(len(proposal.changes), 5)):
            for part in combinations(proposal.changes, size):
                assert judge(changed(question, part)).verdict == "not-ready"


@FEW
@given(scene=broken(), random=st.randoms(use_true_random=False))
def test_the_same_question_gives_the_same_answer_in_any_order(scene, random):
    question = scene.question()
    some = list(question.candidates)
    random.shuffle(some)
    assert mend(replace(question, candidates=tuple(some))) == mend(question)


@FEW
@given(scene=broken())
def test_no_family_is_weakened_no_text_hidden_no_check_switched_off(scene):
    question = scene.question()
    for proposal in mend(question).proposals:
        after = changed(question, proposal.changes)
        assert replace(after.family, settled=True, problems=()) == replace(question.family, settled=True, problems=())
        assert len(after.cards) >= len(question.cards)
        assert after.host.destination == question.host.destination
        assert after.route.target_mode == question.route.target_mode
        words = {(one.code, one.piece) for one in proposal.changes if one.kind is ChangeKind.WORD}
        for _code, sha256 in words:
            assert not {("fit-unproved", sha256), ("unvouched", sha256)} <= words
        here = {each.sha256 for each in question.candidates}
        here |= {beside.sha256 for each in question.candidates for beside in each.beside}
        assert all(one.piece in here for one in proposal.changes if one.kind in (ChangeKind.WORD, ChangeKind.PIN))


@FEW
@given(scene=broken())
def test_evidence_stands_before_choice_and_choice_before_a_word(scene):
    ranks = [
        (kinds.count(ChangeKind.WORD), kinds.count(ChangeKind.PIN), len(kinds))
        for kinds in ([one.kind for one in proposal.changes] for proposal in mend(scene.question()).proposals)
    ]
    assert ranks == sorted(ranks)


@FEW
@given(scene=broken())
def test_words_and_pins_given_by_hand_do_what_was_said(scene):
    """The same by a person's own hand, not by `changed`."""
    question = scene.question()
    for proposal in mend(question).proposals:
        if not all(one.kind in (ChangeKind.WORD, ChangeKind.PIN) for one in proposal.changes):
            continue
        pins = {one.role: one.piece for one in proposal.changes if one.kind is ChangeKind.PIN}
        words = [one for one in proposal.changes if one.kind is ChangeKind.WORD]
        by_hand = replace(
            question,
            pins=(*(pin for pin in question.pins if pin.role not in pins),
                  *(Pin(role or "", piece or "", "seen") for role, piece in pins.items())),
            words=(*question.words, *(Word(one.code or "", one.piece or "", "seen", "A. Bench") for one in words)),
        )  # fmt: skip
        assert judge(by_hand).verdict == "ready"


@pytest.mark.parametrize(("name", "role"), [(name, role) for name, make in SCENES.items()
                                            for role in make().family.routes[0].needs])  # fmt: skip
def test_a_piece_that_is_missing_is_described_so_that_the_right_one_answers(name, role):
    scene = SCENES[name]()
    gone = scene.of(role)
    for key in [key for key, one in scene.pieces.items() if one.sha256 == gone.sha256]:
        del scene.pieces[key]
    if role == "firmware":
        scene.pieces.pop("fw-old", None)
    supply = [one for proposal in mend(scene.question()).proposals for one in proposal.changes
              if one.kind is ChangeKind.SUPPLY]  # fmt: skip
    assert supply and {one.role for one in supply} == {role}
    asked = supply[0]
    if asked.asks("SHA-256"):
        assert gone.sha256 in asked.asks("SHA-256").split(" or ")
    if asked.asks("kind"):
        assert gone.kind in (asked.asks("kind"), "option-rom")
    if asked.asks("holds the text"):
        assert asked.asks("holds the text") in gone.matches
    scene.pieces["fetched"] = gone
    assert scene.judge().verdict == "ready"


def test_an_empty_shelf_is_told_all_that_it_lacks():
    scene = bittern()
    scene.pieces.clear()
    (first, *_) = mend(scene.question()).proposals
    assert [one.role for one in first.changes] == ["eeprom-image", "firmware", "writer"]
    assert all(one.kind is ChangeKind.SUPPLY and one.supposed for one in first.changes)


def test_a_list_that_speaks_against_a_piece_gives_the_digest_to_look_for():
    plant = next(one for one in PLANTS if one.do.__name__ == "list_speaks_against_the_firmware")
    scene = planted(plant)
    want = next(one for one in scene.pieces.values() if one.contradictions).contradictions[0].want
    (first, *_) = mend(scene.question()).proposals
    assert first.changes[0].kind is ChangeKind.FETCH
    assert first.changes[0].asks("SHA-256") == want


def test_a_word_alone_never_clears_both_of_what_must_not_both_be_cleared():
    scene = bittern()
    scene.change("ub", matches={}, vouches=())
    scene.pin("uefi-boot-rom", sha("ub-1"))
    parts = scene.pieces["ub"].reading.parts
    image = replace(parts[0], ids=())
    scene.change("ub", reading=replace(scene.pieces["ub"].reading, ids=(), parts=(image,)))
    codes = {one.code for one in scene.judge().findings if one.level is Level.STOP}
    assert codes == {"fit-unproved", "unvouched"}
    found = [[(one.kind, one.code) for one in each.changes] for each in mend(scene.question()).proposals]
    assert [(ChangeKind.VOUCH, "unvouched"), (ChangeKind.WORD, "fit-unproved")] in found
    assert not any(sum(kind is ChangeKind.WORD for kind, _ in each) > 1 for each in found)


def test_the_cards_own_save_asks_for_its_listing():
    scene = bittern()
    layout = scene.family.layouts["bittern"]
    held = layout_answer(layout, mode__vendor=0xF234, mode__device=0x0C81, identity__sas=0x5F23401000000010)
    scene.change("ee", layouts={"bittern": held})
    found = mend(scene.question()).proposals
    listing = next(one for each in found for one in each.changes if one.kind is ChangeKind.LISTING)
    assert listing.asks("identity.sas") == "5F23401000000010"
    scene.cards = (card(identities={"sas": line("5f234010-00000010")}),)
    assert scene.judge().verdict == "ready"


def test_another_route_to_the_same_mode_is_another_bench():
    scene = bittern()
    dos = scene.family.routes[0]
    scene.edit(routes=(dos, replace(dos, id="by-uefi", bench="uefi"), replace(dos, id="back", target_mode="raid")))
    del scene.pieces["writer"]
    scene.pieces["app"] = piece("app.efi", "efi-application", matches={**bittern().pieces["writer"].matches},
                                vouches=(named(),))  # fmt: skip
    found = [[(one.kind, one.route) for one in each.changes] for each in mend(scene.question()).proposals]
    assert [(ChangeKind.BENCH, "by-uefi")] in found
    assert not any(route == "back" for each in found for _, route in each)


def test_where_nothing_helps_it_says_what_does_not():
    scene = bittern()
    scene.cards = (card(mode="plain"),)
    found = mend(scene.question())
    assert found.proposals == () and found.all_tried
    assert [one.partition(":")[0] for one in found.stuck] == ["wrong-start"]


def test_a_lowest_above_all_known_versions_leaves_nothing_to_propose():
    """A version beyond all known is never taken by itself, so none can be asked for that would be."""
    scene = bittern()
    scene.edit_role("firmware", lowest="13.0")
    found = mend(scene.question())
    assert found.proposals == () and "below-lowest" in found.stuck[0]


def test_a_piece_of_no_release_is_asked_for_where_all_that_releases_name_is_here():
    scene = bittern()
    scene.change("fw", matches={**scene.pieces["fw"].matches}, contradictions=(AGAINST,))
    del scene.pieces["fw-old"]
    scene.edit(releases=scene.family.releases[:1])
    supply = [one for each in mend(scene.question()).proposals for one in each.changes
              if one.kind in (ChangeKind.SUPPLY, ChangeKind.FETCH)]  # fmt: skip
    assert [one.release for one in supply] == [None]


def test_a_bound_ends_the_search_and_is_told():
    scene = bittern()
    scene.pieces.clear()
    assert not mend(scene.question(), most=2).all_tried
    asked = iter([True, True, False])
    assert not mend(scene.question(), lambda: next(asked, False)).all_tried


def test_a_piece_described_for_another_bench_does_not_serve_on_this_one():
    """What is asked for in view of another route is that thing by this route too."""
    scene = bittern()
    dos = scene.family.routes[0]
    scene.edit(routes=(dos, replace(dos, id="by-uefi", bench="uefi")))
    del scene.pieces["writer"]
    found = mend(scene.question()).proposals
    for each in found:
        kinds = [one.asks("kind") for one in each.changes if one.kind is ChangeKind.SUPPLY]
        assert ("efi-application" in kinds) == any(one.route == "by-uefi" for one in each.changes)
    assert len(found) == 2
    assert len({tuple(one.text for one in each.changes) for each in found}) == len(found)
