"""Properties of judging (judging.md, "Properties"), on sound kits and on kits with faults planted at random."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.kits.judge import judge
from catalogue.shapes.as_json import as_text
from catalogue.shapes.host import NO_HOST
from catalogue.shapes.kit import Kit
from catalogue.shapes.piece import Contradiction, Place, Vouch
from catalogue.shapes.reading import Fault
from tests.kits.host_plants import PLANTS, Plant
from tests.kits.world import (
    BITTERN,
    HERON,
    HOST,
    PLOVER,
    SCENES,
    Names,
    Scene,
    chosen,
    finding,
    found,
    heron,
    machine,
    named,
    neighbour,
    piece,
    plover,
    sha,
    stops,
)

MAKES: list[Callable[[], Scene]] = list(SCENES.values())
SCENE = st.sampled_from(MAKES)
PLANTED = st.sampled_from(PLANTS)
FEW = settings(max_examples=40, deadline=None)


def planted(one: Plant) -> Scene:
    scene = one.make()
    one.do(scene)
    return scene


def any_scene(draw: st.DrawFn) -> Scene:
    return draw(st.one_of(SCENE.map(lambda make: make()), PLANTED.map(planted)))


scenes = st.composite(any_scene)


@FEW
@given(scene=scenes(), random=st.randoms(use_true_random=False))
def test_the_order_in_which_candidates_come_changes_nothing(scene, random):
    """ "intake order, threads and split runs give the same kit id"."""
    question = scene.question()
    some = list(question.candidates)
    random.shuffle(some)
    assert as_text(judge(replace(question, candidates=tuple(some)))) == as_text(judge(question))


@FEW
@given(scene=scenes())
def test_judging_twice_gives_a_byte_identical_kit_object(scene):
    question = scene.question()
    first, second = as_text(judge(question)), as_text(judge(question))
    assert first == second
    assert json.loads(first)["id"] == judge(question).id


@FEW
@given(scene=scenes())
def test_an_unrelated_piece_changes_nothing(scene):
    """ "an unrelated file, a duplicate or another family's whole kit changes nothing"."""
    before = as_text(scene.judge())
    scene.pieces["holiday"] = piece("holiday.jpg", size=320)
    scene.pieces["zip"] = piece("holiday.zip", "archive/zip", matches=found("BITTERN PT"))
    scene.pieces["program"] = piece("game.exe", "dos-program", vouches=(named(),))
    assert as_text(scene.judge()) == before


@FEW
@given(scene=scenes())
def test_another_familys_whole_kit_changes_nothing(scene):
    before = as_text(scene.judge())
    for name, make in SCENES.items():
        other = make()
        if other.family.id != scene.family.id:
            for key, one in other.pieces.items():
                scene.pieces[f"{name} {key}"] = one
    assert as_text(scene.judge()) == before


@FEW
@given(scene=scenes(), data=st.data())
def test_a_duplicate_changes_nothing_but_where_it_lies(scene, data):
    before = scene.judge()
    key = data.draw(st.sampled_from(sorted(scene.pieces)))
    one = scene.pieces[key]
    scene.pieces[key] = replace(one, places=(*one.places, Place("/in/z/copy of it that is long.bin")))
    after = scene.judge()
    assert (after.id, after.verdict, after.roles, after.pieces) == (
        before.id,
        before.verdict,
        before.roles,
        before.pieces,
    )


@FEW
@given(
    scene=scenes(),
    name=st.from_regex(r"[a-z]{1,8}\.[a-z]{3}", fullmatch=True).filter(lambda one: not one.endswith(".com")),
)
def test_renaming_and_moving_changes_neither_fit_nor_choice(scene, name):
    """ "renaming or moving files (but `.COM` and companions) ... changes neither kind, fit nor choice"."""
    before = scene.judge()
    for key, one in scene.pieces.items():
        scene.pieces[key] = replace(one, places=(Place("/elsewhere/a.zip", (f"{key}/{name}",)),))
    after = scene.judge()
    assert (after.id, after.verdict, after.roles) == (before.id, before.verdict, before.roles)
    assert {(one.code, one.role, one.piece) for one in after.findings if one.code != "name-disagrees"} == {
        (one.code, one.role, one.piece) for one in before.findings if one.code != "name-disagrees"
    }


@FEW
@given(make=SCENE, data=st.data())
def test_a_worse_candidate_never_changes_the_choice(make, data):
    """ "a worse candidate never changes the choice": older, less well vouched, of unread version, or stopped."""
    scene = make()
    before = scene.judge()
    role = data.draw(st.sampled_from(sorted(scene.roles)))
    good = scene.of(role)
    known = scene.family.roles[role]
    if known.version is not None and "." not in (older := data.draw(st.sampled_from(["1", "0.9.1", ""]))):
        older = ""
    older = found((known.version, older)) if known.version is not None and older else {}
    has = {text: match for text, match in good.matches.items() if "{version}" not in text}
    worse = data.draw(
        st.sampled_from(
            [
                replace(good, sha256=sha("worse"), vouches=()),
                replace(good, sha256=sha("worse"), vouches=(neighbour(),), matches={**has, **older}),
                replace(good, sha256=sha("worse"), member_faults=(Fault("crc", "damaged"),)),
                replace(good, sha256=sha("worse"), contradictions=(Contradiction("/l", 1, "md5", "a", "b", "x"),)),
                replace(good, sha256=sha("worse"), fill=0xFF),
                replace(good, sha256=sha("worse"), size=9_000_000, vouches=()),
            ]
        )
    )
    scene.pieces["worse"] = worse
    after = scene.judge()
    assert chosen(after) == chosen(before)


@FEW
@given(scene=scenes(), rung=st.sampled_from(["named", "agreed", "neighbour"]))
def test_positive_evidence_for_the_chosen_never_turns_ready_into_not_ready(scene, rung):
    """ "true positive evidence never turns ready into not ready"."""
    before = scene.judge()
    taken = {one for pieces in chosen(before).values() for one in pieces}
    for key, one in scene.pieces.items():
        if one.sha256 in taken:
            scene.pieces[key] = replace(one, vouches=(*one.vouches, Vouch(rung, "more", "/more:1", "sha256")))
    after = scene.judge()
    if before.verdict == "ready":
        assert after.verdict == "ready"
        assert chosen(after) == chosen(before)


@FEW
@given(plant=st.sampled_from([one for one in PLANTS if one.code not in ("ambiguous", "mixed-release")]), data=st.data())
def test_negative_evidence_never_turns_not_ready_into_ready(plant, data):
    """ "negative evidence never the reverse". What stops one of its pieces settles a tie or a mix, so not those."""
    scene = planted(plant)
    before = scene.judge()
    key = data.draw(st.sampled_from([*sorted(scene.pieces)]))
    one = scene.pieces[key]
    against = (Contradiction("/in/list", 1, "sha256", "a", "b", key),)
    scene.pieces[key] = data.draw(
        st.sampled_from([replace(one, contradictions=against), replace(one, vouches=()), replace(one, fill=0)])
    )
    if before.verdict == "not-ready" and not scene.pins and plant.code != "same-version-two-contents":
        assert scene.judge().verdict == "not-ready"


@FEW
@given(make=SCENE, data=st.data())
def test_any_changed_byte_of_a_written_piece_is_not_ready_or_not_chosen(make, data):
    """Changed bytes have another SHA-256, stand in no list, and keep only what their archive and neighbours say."""
    scene = make()
    before = scene.judge()
    role = data.draw(st.sampled_from([one.role for one in before.roles if one.written]))
    good = scene.of(role)
    kept = tuple(one for one in good.vouches if one.rung == "neighbour")
    key = scene.roles[role]
    scene.pieces[key] = replace(good, sha256=sha("changed"), vouches=kept)
    after = scene.judge()
    taken = {one for pieces in chosen(after).values() for one in pieces}
    assert after.verdict == "not-ready" or sha("changed") not in taken


RENAMED = st.builds(
    Names,
    vendor=st.integers(0xF000, 0xFFFE),
    first=st.integers(0x1000, 0x1FFF),
    second=st.integers(0x2000, 0x2FFF),
    bare=st.integers(0x3000, 0x3FFF),
    oui=st.integers(0, 0xFFFFFF),
    firmware=st.from_regex(r"[A-Z]{4}F", fullmatch=True),
    boot=st.from_regex(r"[A-Z]{4}B", fullmatch=True),
    model=st.from_regex(r"[A-Z]{4}M", fullmatch=True),
    tool=st.from_regex(r"[A-Z]{4}T", fullmatch=True),
    source=st.just("wet"),
    target=st.just("dry"),
)


def told(kit: Kit) -> list[object]:
    """What a renamed world must have in common."""
    roles = [(one.role, len(one.pieces), one.version, one.fit, one.vouch, one.age, one.left_out) for one in kit.roles]
    return [kit.verdict, roles, [(one.code, one.role, one.level, one.piece) for one in kit.findings]]


@FEW
@given(names=RENAMED, kind=st.sampled_from([("bittern", BITTERN), ("heron", HERON), ("plover", PLOVER)]))
def test_ids_ouis_and_strings_replaced_consistently_give_the_same_verdict(names, kind):
    """ "IDs, OUI and strings replaced consistently in family and pieces: same verdict (nothing is hard-coded)"."""
    make = SCENES[kind[0]]
    assert told(make(names).judge()) == told(make().judge())


@pytest.mark.parametrize("plant", PLANTS, ids=lambda plant: plant.name)
def test_every_kit_object_keeps_the_contracts_shape(plant):
    kit = planted(plant).judge()
    for one in kit.findings:
        assert one.evidence and one.remedy and one.text.endswith(".")
        assert not (one.clearable and one.piece is None)
    assert (kit.verdict == "ready") == (not stops(kit))
    assert {one for role in kit.roles for one in role.pieces} == {one.sha256 for one in kit.pieces}
    assert len({one.sha256 for one in kit.pieces}) == len(kit.pieces)
    for role in kit.roles:
        assert role.fit in ("yes", "no", "silent")
        assert role.vouch in ("signed", "named", "ran", "agreed", "neighbour", "none")
        assert role.age in ("current", "stale", "withdrawn", "unknown")
        assert role.left_out == (not role.needed and not role.pieces)
        assert not {one.piece for one in role.others} & set(role.pieces[:1])
        assert all(one.why for one in role.others)


def test_what_is_said_beside_the_verdict():
    scene = plover()
    scene.route_ran = False
    scene.host = NO_HOST
    kit = scene.judge()
    assert kit.said[0].startswith("Ready, never run")
    assert kit.said[1] == finding(kit, "not-taught").text
    assert kit.said[2] == (
        "Not told of the destination host, so not checked for uefi-boot-rom: its CPU, its Secure Boot, its db, its dbx."
    )
    assert kit.said[3] == "Not told of the bench host, so not checked: its CPU, the ways it starts."
    del scene.pieces["rom"]
    kit = scene.judge()
    assert kit.said[0].startswith("Never run")
    assert len(kit.said) == 3
    assert all("destination" not in one for one in heron().judge().said)
    scene = plover()
    scene.host = replace(HOST, destination=machine(secure_boot=True))
    assert scene.judge().said == (
        finding(scene.judge(), "not-taught").text,
        "Not told of the destination host, so not checked for uefi-boot-rom: its db, its dbx.",
    )
    assert len(plover().judge().said) == 1
