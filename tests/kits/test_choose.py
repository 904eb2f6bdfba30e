"""Choice: releases newest first, else piece by piece; ties, pins, waiting pieces, pieces beyond all known."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from catalogue.families.model import Claim, Release
from catalogue.shapes.finding import Level
from catalogue.shapes.piece import Contradiction, Vouch
from catalogue.shapes.reading import Fault
from tests.kits.plants import alone, two_eeprom_images, two_extenders
from tests.kits.world import (
    Scene,
    bittern,
    choice,
    chosen,
    finding,
    found,
    heron,
    named,
    neighbour,
    others_of,
    piece,
    plover,
    sha,
    stops,
)


def firmware(name: str, version: str, *vouches: Vouch, **rest: object):
    texts = found(("CVFW {version}", version), "BITTERN PT")
    return piece(name, size=524_288, matches=texts, vouches=vouches, **rest)


def test_the_newest_complete_release_is_taken():
    """ "Newest `date` first, the release is taken for which every needed role has a candidate that it claims"."""
    scene = bittern()
    kit = scene.judge()
    assert choice(kit, "firmware").pieces == (sha("fw-12"),)
    assert others_of(kit, "firmware") == {sha("fw-11"): ("older",)}


def test_an_older_complete_release_goes_before_a_newer_incomplete_one():
    scene = bittern()
    scene.change("fw", member_faults=(Fault("crc", "damaged"),))
    kit = scene.judge()
    assert kit.verdict == "ready"
    assert choice(kit, "firmware").version == "11.00.0"
    assert choice(kit, "firmware").age == "stale"
    assert others_of(kit, "firmware") == {sha("fw-12"): ("archive-damaged",)}
    assert "is not in the catalogue" in finding(kit, "stale").text


def test_stale_says_that_the_newer_one_is_held():
    scene = bittern()
    scene.pin("firmware", sha("fw-11"))
    scene.change("lb", matches=found(("CVLB {version}", "8.30.0")))
    kit = scene.judge()
    assert kit.verdict == "ready"
    assert "version 12.04.0) and lies in the catalogue" in finding(kit, "stale", "firmware").text


def test_an_optional_role_takes_only_what_the_release_claims():
    """ "a `may` role it lists takes only a claimed piece"."""
    scene = bittern()
    scene.change("lb", matches=found(("CVLB {version}", "8.30.0")))
    kit = scene.judge()
    assert choice(kit, "legacy-boot-rom").left_out
    assert others_of(kit, "legacy-boot-rom") == {sha("lb-841"): ("mixed-release",)}
    scene.change("lb", matches=found(("CVLB {version}", "8.40.0")))
    assert others_of(scene.judge(), "legacy-boot-rom") == {sha("lb-841"): ("release-unknown",)}


def test_piece_by_piece_named_goes_first_then_newest():
    """ "Else piece by piece: named first, then newest version"."""
    scene = heron()
    scene.edit(releases=())
    scene.edit_role("firmware", decide=("has",), has={"pass": "HERON PT"}, version="HNFW {version}")
    del scene.pieces["fw"]
    for version, vouches in (("1.0", (named(),)), ("2.0", (named(),)), ("3.0", (neighbour(),))):
        texts = found(("HNFW {version}", version), "HERON PT")
        scene.pieces[version] = piece(version, size=131_072, matches=texts, vouches=vouches)
    scene.change("ee", vouches=(named(),))
    kit = scene.judge()
    assert kit.verdict == "ready"
    assert choice(kit, "firmware").version == "2.0"
    assert others_of(kit, "firmware") == {sha("1.0"): ("older",), sha("3.0"): ("unvouched",)}


def test_a_piece_beyond_all_known_is_never_chosen_by_itself():
    scene = alone()
    scene.pieces["99"] = firmware("99", "99.0", named())
    kit = scene.judge()
    assert choice(kit, "firmware").pieces == (sha("fw-12"),)
    assert others_of(kit, "firmware") == {sha("99"): ("beyond-known",)}
    scene.pin("firmware", sha("99"))
    kit = scene.judge()
    assert kit.verdict == "ready"
    assert choice(kit, "firmware").pieces == (sha("99"),)
    assert choice(kit, "firmware").age == "unknown"


def test_bounds_make_no_version_known():
    """ "bounds are none; without any, nothing is beyond"."""
    scene = alone()
    scene.edit_release(1, "writer", Claim("3.12"))
    scene.edit_release(0, "writer", Claim(least="3.10"))
    scene.change("writer", matches=found(("QUAYHAND {version}", "99"), "QUAYHAND"))
    kit = scene.judge()
    assert ("role-empty", "writer", None) in stops(kit)
    assert others_of(kit, "writer") == {sha("writer-312"): ("beyond-known",)}
    assert finding(kit, "beyond-known").piece == sha("writer-312")
    scene.change("writer", beside=())
    assert others_of(scene.judge(), "writer") == {sha("writer-312"): ("beyond-known", "companion-missing")}
    assert "beyond-known" not in {one.code for one in scene.judge().findings}


def test_what_a_release_names_by_digest_is_not_beyond():
    scene = alone()
    scene.edit_release(0, "firmware", Claim(sha256=(sha("fw-12"),)))
    scene.change("fw", matches=found(("CVFW {version}", "99.0"), "BITTERN PT"))
    assert scene.judge().verdict == "ready"


def test_a_waiting_piece_fills_a_needed_role_and_its_stops_are_findings():
    scene = alone()
    scene.edit_release(0, "firmware", Claim("12.04.0"))
    kit = scene.judge()
    assert choice(kit, "firmware").pieces == (sha("fw-12"),)
    assert stops(kit) == [("unvouched", "firmware", sha("fw-12"))]
    assert not choice(kit, "legacy-boot-rom").left_out


def test_a_candidate_goes_before_a_waiting_piece_of_a_newer_version():
    scene = bittern()
    scene.edit_release(0, "firmware", Claim("12.04.0"))
    kit = scene.judge()
    assert choice(kit, "firmware").version == "11.00.0"
    assert others_of(kit, "firmware") == {sha("fw-12"): ("unvouched",)}
    assert "and lies in the catalogue" in finding(kit, "stale").text


def test_an_optional_role_never_takes_a_waiting_piece():
    scene = bittern()
    scene.change("ub", vouches=())
    kit = scene.judge()
    assert choice(kit, "uefi-boot-rom").left_out
    assert kit.verdict == "ready"
    note = finding(kit, "left-out")
    assert (note.level, note.piece) == (Level.NOTE, None)
    assert [one.have for one in note.evidence] == ["unvouched", "left out"]
    assert "step load goes without it" in note.text


def test_the_best_waiting_piece_is_the_newest():
    scene = alone()
    scene.edit_release(0, "firmware", None)
    scene.edit_release(1, "firmware", None)
    scene.pieces["a"], scene.pieces["b"] = firmware("a", "1.0"), firmware("b", "2.0")
    scene.edit_role("firmware", lowest=None)
    del scene.pieces["fw"]
    kit = scene.judge()
    assert choice(kit, "firmware").pieces == (sha("b"),)
    assert others_of(kit, "firmware") == {sha("a"): ("unvouched",)}


def test_the_stops_of_all_misses_are_findings_of_an_empty_role():
    scene = bittern()
    scene.change("fw", contradictions=(Contradiction("/l", 1, "sha256", "a", "b", "fw"),))
    scene.change("fw-old", size=1)
    kit = scene.judge()
    assert set(stops(kit)) == {
        ("role-empty", "firmware", None),
        ("contradicted", "firmware", sha("fw-12")),
        ("wrong-size", "firmware", sha("fw-11")),
    }
    named_misses = {one.have for one in finding(kit, "role-empty").evidence}
    assert {"contradicted", "wrong-size"} <= named_misses
    role = choice(kit, "firmware")
    assert (role.pieces, role.version, role.fit, role.vouch, role.age) == ((), None, "silent", "none", "unknown")


def test_a_tie_leaves_a_needed_role_empty_until_a_word_picks():
    """ "A tie is never broken by path, time or digest"; "the word `ambiguous=HASH`, picks"."""
    scene = bittern()
    two_eeprom_images(scene)
    kit = scene.judge()
    assert choice(kit, "eeprom-image").pieces == ()
    assert set(stops(kit)) == {("ambiguous", "eeprom-image", sha(name)) for name in ("ee-1", "second")}
    assert others_of(kit, "eeprom-image") == {sha("ee-1"): ("tie",), sha("second"): ("tie",)}
    for name in ("ee-1", "second"):
        worded = replace_words(scene, ("ambiguous", sha(name)))
        kit = worded.judge()
        assert kit.verdict == "ready"
        assert choice(kit, "eeprom-image").pieces == (sha(name),)
        cleared = finding(kit, "ambiguous")
        assert (cleared.level, cleared.piece) == (Level.CAUTION, sha(name))
        assert cleared.cleared_by is not None and cleared.cleared_by.by == "A. Bench"
        pinned = bittern()
        two_eeprom_images(pinned)
        pinned.pin("eeprom-image", sha(name))
        assert pinned.judge().verdict == "ready"


def replace_words(scene: Scene, *words: tuple[str, str]) -> Scene:
    new = replace(scene, words=[])
    for code, sha256 in words:
        new.word(code, sha256)
    return new


def test_two_words_that_pick_two_settle_nothing():
    scene = bittern()
    two_eeprom_images(scene)
    scene.word("ambiguous", sha("ee-1"))
    scene.word("ambiguous", sha("second"))
    kit = scene.judge()
    assert kit.verdict == "not-ready"
    assert choice(kit, "eeprom-image").pieces == ()
    assert all(not one.clearable for one in kit.findings if one.code == "ambiguous")


def test_a_word_picks_in_an_optional_role_too():
    scene = bittern()
    scene.pieces["second"] = replace(scene.pieces["ub"], sha256=sha("second"))
    assert choice(scene.judge(), "uefi-boot-rom").left_out
    scene.word("ambiguous", sha("second"))
    kit = scene.judge()
    assert kit.verdict == "ready"
    assert choice(kit, "uefi-boot-rom").pieces == (sha("second"),)
    assert finding(kit, "ambiguous").cleared_by is not None


def test_a_word_picks_between_companions():
    scene = bittern()
    two_extenders(scene)
    assert choice(scene.judge(), "writer").pieces == (sha("writer-312"),)
    scene.word("ambiguous", sha("extender 2"))
    kit = scene.judge()
    assert kit.verdict == "ready"
    assert choice(kit, "writer").pieces == (sha("writer-312"), sha("extender 2"))
    assert finding(kit, "ambiguous").piece == sha("extender 2")
    scene.word("ambiguous", sha("extender"))
    assert scene.judge().verdict == "not-ready"


def test_waiting_pieces_that_tie_bring_their_own_stops():
    scene = plover()
    scene.pieces["second"] = replace(scene.pieces["writer"], sha256=sha("second"))
    kit = scene.judge()
    assert choice(kit, "writer").pieces == ()
    pieces = {sha("second"), sha("plover-writer")}
    assert set(stops(kit)) == {
        (code, "writer", one) for code in ("ambiguous", "same-version-two-contents") for one in pieces
    }
    scene.word("same-version-two-contents", sha("second"))
    kit = scene.judge()
    assert kit.verdict == "ready"
    assert choice(kit, "writer").pieces == (sha("second"),)


def test_padding_alone_never_ties_unless_the_lengths_are_the_same():
    scene = bittern()
    scene.change("ee", trimmed=sha("bare"), size=320)
    scene.pieces["second"] = replace(scene.pieces["ee"], sha256=sha("second"))
    assert choice(scene.judge(), "eeprom-image").pieces == ()


def test_a_pin_is_taken_whatever_its_stops():
    scene = bittern()
    scene.change("fw-old", size=1, member_faults=(Fault("crc", "damaged"),))
    scene.pin("firmware", sha("fw-11"))
    kit = scene.judge()
    assert choice(kit, "firmware").pieces == (sha("fw-11"),)
    codes = {code for code, role, one in stops(kit) if (role, one) == ("firmware", sha("fw-11"))}
    assert codes == {"wrong-size", "archive-damaged", "pin-broken"}


def test_a_pin_with_stops_that_a_word_clears_is_not_broken():
    scene = bittern()
    scene.change("ub", vouches=())
    scene.pin("uefi-boot-rom", sha("ub-1"))
    kit = scene.judge()
    assert stops(kit) == [("unvouched", "uefi-boot-rom", sha("ub-1"))]
    scene.word("unvouched", sha("ub-1"))
    assert scene.judge().verdict == "ready"


def test_a_pinned_archive_is_taken_and_stopped():
    scene = bittern()
    scene.pieces["zip"] = piece("a.zip", "archive/zip")
    assert "archive/zip" not in {one.kind for one in scene.judge().pieces}
    scene.pin("firmware", sha("a.zip"))
    assert {code for code, _, _ in stops(scene.judge())} >= {"wrong-kind", "pin-broken"}


def test_an_archive_is_never_near_by_its_digest():
    scene = alone()
    scene.edit_release(0, "firmware", Claim("12.04.0", (), (sha("fw-12"), sha("a.zip"))))
    scene.pieces["zip"] = piece("a.zip", "archive/zip", matches=found("BITTERN PT"))
    assert others_of(scene.judge(), "firmware") == {}


def test_the_bounds_are_those_of_the_release_that_is_tried():
    """ "Bounds are the tried release's, else those of the newest release that lists the role"."""
    scene = bittern()
    scene.change("writer", matches=found(("QUAYHAND {version}", "3.05"), "QUAYHAND"))
    kit = scene.judge()
    assert kit.verdict == "ready"
    assert choice(kit, "firmware").version == "11.00.0"
    del scene.pieces["fw-old"]
    kit = scene.judge()
    assert {code for code, role, _ in stops(kit) if role == "writer"} == {"role-empty", "tool-too-old"}


def test_a_release_that_does_not_list_a_role_leaves_it_free_within_the_newest_bounds():
    scene = alone()
    scene.edit_release(0, "writer", None)
    assert scene.judge().verdict == "ready"
    scene.change("writer", matches=found(("QUAYHAND {version}", "3.21"), "QUAYHAND"))
    assert stops(scene.judge()) == [("tool-too-new", "writer", sha("writer-312"))]


def test_an_empty_needed_role_does_not_tear_the_others_apart():
    scene = bittern()
    scene.change("fw", member_faults=(Fault("crc", "damaged"),))
    scene.change("lb", matches=found(("CVLB {version}", "8.30.0")))
    scene.pieces["lb 2"] = replace(scene.pieces["lb"], sha256=sha("lb 2"), matches=found(("CVLB {version}", "8.41.0")))
    del scene.pieces["ee"]
    kit = scene.judge()
    assert stops(kit) == [("role-empty", "eeprom-image", None)]
    assert choice(kit, "legacy-boot-rom").version == "8.30.0"


def test_an_entry_that_says_nothing_claims_nothing():
    scene = alone()
    scene.edit_release(0, "firmware", Claim())
    scene.pin("firmware", sha("fw-12"))
    kit = scene.judge()
    assert "release-unknown" in {one.code for one in kit.findings}


def test_a_claim_by_same_forms_alone():
    scene = alone()
    scene.edit_release(0, "firmware", Claim(None, ("0C040000", "12.04.0"), ()))
    scene.change("fw", vouches=(named(),))
    kit = scene.judge()
    assert kit.verdict == "ready"
    assert choice(kit, "firmware").version == "12.04.0"
    assert choice(kit, "firmware").age == "current"


def test_of_two_releases_of_one_day_the_first_of_the_file_is_tried_first():
    scene = alone()
    twin = Release("twelve b", date(2026, 2, 10), "stop", {"firmware": Claim("12.04.0", (), (sha("fw-12"),))})
    scene.edit(releases=(*scene.family.releases, twin))
    assert scene.judge().verdict == "ready"


@pytest.mark.parametrize("role", ["firmware", "eeprom-image", "writer"])
def test_each_needed_role_removed(role):
    scene = alone()
    del scene.pieces[scene.roles[role]]
    assert stops(scene.judge()) == [("role-empty", role, None)]


def test_a_role_the_file_does_not_know_stays_empty():
    scene = bittern()
    scene.edit_route(needs=(*scene.family.routes[0].needs, "cheese"))
    assert stops(scene.judge()) == [("role-empty", "cheese", None)]


def test_everything_gone():
    scene = bittern()
    scene.pieces.clear()
    kit = scene.judge()
    assert {code for code, _, _ in stops(kit)} == {"role-empty"}
    assert all(not pieces for pieces in chosen(kit).values())
    assert kit.pieces == ()


def test_a_route_to_a_mode_the_file_does_not_know_proves_nothing():
    scene = bittern()
    scene.edit_route(target_mode="elsewhere")
    kit = scene.judge()
    assert {code for code, _, _ in stops(kit)} == {"fit-unproved", "other-mode", "role-empty"}


def test_a_newer_piece_less_well_vouched_than_the_chosen():
    scene = bittern()
    scene.pieces["newer"] = replace(
        scene.pieces["writer"],
        sha256=sha("newer"),
        vouches=(neighbour(),),
        matches=found(("QUAYHAND {version}", "3.50"), "QUAYHAND"),
    )
    kit = scene.judge()
    assert choice(kit, "writer").version == "3.12"
    assert others_of(kit, "writer") == {sha("newer"): ("neighbour-only",)}


def test_others_of_one_version_or_none():
    scene = bittern()
    scene.pieces["same"] = replace(scene.pieces["writer"], sha256=sha("same"), vouches=())
    scene.pieces["none"] = replace(scene.pieces["writer"], sha256=sha("none"), matches=found("QUAYHAND"))
    scene.pieces["ub 2"] = replace(scene.pieces["ub"], sha256=sha("ub 2"), vouches=())
    scene.ran = {"uefi-boot-rom": {sha("ub 2"): (Vouch("ran", "card 1"),)}}
    kit = scene.judge()
    assert others_of(kit, "writer") == {sha("same"): ("same-version-two-contents",), sha("none"): ("older",)}
    assert others_of(kit, "uefi-boot-rom") == {sha("ub 2"): ("unvouched",)}


def test_a_newer_piece_of_another_release_than_the_taken():
    scene = bittern()
    del scene.pieces["fw"]
    scene.edit_release(1, "writer", Claim(least="3.00", most="3.10"))
    scene.edit_release(0, "writer", Claim(least="3.11", most="3.99"))
    scene.pieces["old"] = replace(
        scene.pieces["writer"], sha256=sha("old"), matches=found(("QUAYHAND {version}", "3.05"), "QUAYHAND")
    )
    kit = scene.judge()
    assert choice(kit, "writer").version == "3.05"
    assert others_of(kit, "writer") == {sha("writer-312"): ("tool-too-new",)}
