"""Corners of the criteria, of what a family knows, and of names, that no planted fault reaches."""

from __future__ import annotations

from dataclasses import replace

import pytest

from catalogue.families.model import ANY_BENCH, Claim, IdPattern, Role, Withdrawn
from catalogue.kits.known import know
from catalogue.kits.names import last_part, readable
from catalogue.shapes.layout import LayoutField
from catalogue.shapes.piece import Place
from catalogue.shapes.reading import CardId, Fault, Field, Reading
from tests.kits.plants import alone
from tests.kits.world import (
    BITTERN,
    bittern,
    choice,
    finding,
    found,
    heron,
    image,
    layout_answer,
    named,
    piece,
    rom,
    sha,
    stops,
)

TARGET = (BITTERN.vendor, BITTERN.second)


@pytest.mark.parametrize(("kind", "fits"), [("option-rom", True), ("option-rom/efi", True), ("option-rom/isa", False)])
def test_a_roles_kind_matches_a_file_of_several_images_by_its_parts(kind, fits):
    scene = bittern()
    scene.edit_role("uefi-boot-rom", kind={ANY_BENCH: kind}, ids=None, decide=("hash",))
    scene.edit_release(0, "uefi-boot-rom", Claim("1", (), (sha("ub-1"),)))
    both = (image("legacy-x86", *TARGET, last=False), image("efi", *TARGET))
    scene.change("ub", kind="option-rom", reading=rom("x", *both).reading)
    assert choice(scene.judge(), "uefi-boot-rom").left_out == (not fits)


def test_an_eeprom_image_has_its_kind_by_the_layout():
    scene = bittern()
    scene.edit_role("eeprom-image", kind={ANY_BENCH: "eeprom-image"})
    assert scene.judge().verdict == "ready"
    scene.edit_role("eeprom-image", layout=None, decide=("hash",))
    scene.edit_release(0, "eeprom-image", Claim(sha256=(sha("ee-1"),)))
    assert scene.judge().verdict == "ready"
    scene.change("ee", layouts={})
    assert {code for code, _, _ in stops(scene.judge())} == {"role-empty", "wrong-kind"}


def test_a_layout_without_mode_fields_fits_by_magic_and_size():
    scene = bittern()
    layout = replace(scene.family.layouts["bittern"], fields=())
    scene.edit(layouts={"bittern": layout})
    scene.change("ee", layouts={"bittern": layout_answer(layout)})
    assert scene.judge().verdict == "ready"


def test_a_layout_field_gives_the_version():
    scene = bittern()
    layout = scene.family.layouts["bittern"]
    layout = replace(layout, fields=(*layout.fields, LayoutField(0x30, "u32le", 4, "version")))
    scene.edit(layouts={"bittern": layout})
    scene.edit_release(0, "eeprom-image", Claim("2.3.0", ("02030000",)))
    answer = layout_answer(layout, mode__vendor=TARGET[0], mode__device=TARGET[1], version=0x02030000)
    scene.change("ee", layouts={"bittern": answer})
    kit = scene.judge()
    assert kit.verdict == "ready"
    assert choice(kit, "eeprom-image").version == "2.3.0"
    scene.edit_release(0, "eeprom-image", Claim("R7"))
    text = replace(
        answer, fields=tuple(replace(one, value="R7") if one.name == "version" else one for one in answer.fields)
    )
    scene.change("ee", layouts={"bittern": text})
    assert choice(scene.judge(), "eeprom-image").version == "R7"


def test_a_piece_of_no_layout_answer_is_silent_and_near_by_its_fill():
    scene = bittern()
    scene.change("ee", layouts={}, fill=0)
    assert ("blank", "eeprom-image", sha("ee-1")) in stops(scene.judge())
    scene.change("ee", layouts={}, fill=None)
    assert stops(scene.judge()) == [("role-empty", "eeprom-image", None)]


def test_blank_as_the_reading_says():
    scene = alone()
    blank = Reading("opaque", "opaque", "Blank", fields=(Field("fill", 0xFF, 0, 524_288),))
    scene.change("fw", matches={}, reading=blank)
    assert {code for code, _, _ in stops(scene.judge())} == {"blank", "role-empty"}


def test_ids_may_be_listed_and_asked_of_other_kinds():
    """A role without an option ROM's kind asks every card that the piece names."""
    scene = bittern()
    scene.edit_role("uefi-boot-rom", kind={ANY_BENCH: "capsule"}, ids=(IdPattern(0xF234, 0x0CAA),), decide=("ids",))
    reading = Reading("capsule", "capsule", "", ids=(CardId(0xF234, 0x0CAA),))
    scene.change("ub", kind="capsule", reading=reading)
    kit = scene.judge()
    assert choice(kit, "uefi-boot-rom").fit == "yes"
    assert "class-differs" not in {one.code for one in kit.findings}


def test_ids_of_the_mode_the_card_comes_from():
    scene = bittern()
    scene.edit_role("uefi-boot-rom", ids="from")
    scene.change("ub", reading=rom("x", image("efi", BITTERN.vendor, BITTERN.first, code=0x010400)).reading)
    scene.change("ub", places=(Place("/in/raid.rom"),))
    kit = scene.judge()
    assert choice(kit, "uefi-boot-rom").fit == "yes"
    assert not {"class-differs", "name-disagrees"} & {one.code for one in kit.findings}


def test_a_com_program_is_silent_only_where_it_can_be_one():
    def scene_of(**what):
        scene = bittern()
        scene.change("writer", kind="opaque", reading=Reading("opaque", "opaque", ""), **what)
        return {code for code, _, _ in stops(scene.judge())}

    places = (Place("/in/QH.COM"),)
    assert scene_of(places=places, size=65_280) == set()
    assert "wrong-kind" in scene_of(places=places, size=65_281)
    assert "wrong-kind" in scene_of(places=(Place("/in/QH.COMX"),), size=100)
    assert "wrong-kind" in scene_of(places=places, size=100, fill=0)


def test_a_self_extractor_is_known_by_the_archive_in_it():
    scene = bittern()
    inside = Reading("zip", "archive/zip", "zip")
    scene.change("writer", reading=Reading("mz", "dos-program", "", parts=(inside,)))
    assert {code for code, _, _ in stops(scene.judge())} == {"wrong-kind", "role-empty"}


def test_only_a_program_is_cut_short():
    scene = bittern()
    scene.change("writer", reading=replace(scene.pieces["writer"].reading, faults=(Fault("odd", "something else"),)))
    assert scene.judge().verdict == "ready"


def test_a_sum_stored_in_the_image():
    scene = bittern()
    layout = scene.family.layouts["bittern"]
    layout = replace(layout, sum=replace(layout.sum, total=None, at=0x13E))
    scene.edit(layouts={"bittern": layout})
    answer = layout_answer(layout, mode__vendor=TARGET[0], mode__device=TARGET[1], sum_ok=False)
    scene.change("ee", layouts={"bittern": answer})
    assert finding(scene.judge(), "eeprom-sum").evidence[0].want == "as stored"


def test_what_is_known_of_a_role_no_release_lists():
    family = bittern().family
    known = know(family, Role("notes"))
    assert (known.listing, known.latest, known.newest, known.top) == ((), None, None, None)
    assert known.bounds(None) is None
    assert not known.claims(family.releases[0], sha("x"), None)
    assert not known.speaks_of_versions


def test_a_release_whose_entry_is_withdrawn_whole_is_not_the_latest():
    scene = heron()
    newer = replace(scene.family.releases[0], name="summer", date=scene.family.as_of, claims={
        "firmware": Claim(sha256=(sha("summer fw"),)),
    })  # fmt: skip
    scene.edit(
        releases=(*scene.family.releases, newer),
        withdrawn=(Withdrawn("firmware", None, sha("summer fw"), "bad", "maker"),),
    )
    assert choice(scene.judge(), "firmware").age == "current"
    assert know(scene.family, scene.family.roles["firmware"]).latest.name == "spring"


def test_a_withdrawn_version_in_another_form():
    scene = alone()
    scene.edit_release(0, "firmware", Claim("12.04.0", ("0C040000",)))
    scene.change("fw", vouches=(named(),))
    scene.edit(withdrawn=(Withdrawn("firmware", "0c040000", None, "bad", "maker"),))
    assert stops(scene.judge()) == [("withdrawn", "firmware", sha("fw-12"))]


def test_a_withdrawn_piece_without_a_version():
    scene = bittern()
    scene.edit(withdrawn=(Withdrawn("uefi-boot-rom", "1.0", None, "bad", "maker"),))
    assert scene.judge().verdict == "ready"


def test_two_equal_pins_are_one():
    scene = bittern()
    scene.pin("firmware", sha("fw-12"))
    scene.pin("firmware", sha("fw-12"))
    assert scene.judge().verdict == "ready"


def test_a_digest_in_capitals_is_the_same_digest():
    scene = alone()
    scene.edit_release(0, "firmware", Claim("12.04.0", (), (sha("fw-12").upper(),)))
    assert choice(scene.judge(), "firmware").vouch == "named"


def test_names_for_a_person():
    assert last_part(Place("/a/b.zip", ("c/d.rom",))) == "d.rom"
    assert last_part(Place("/a/b.zip", ("c/",))) == "c"
    assert last_part(Place("/a/b.zip", ("/",))) == "/"
    assert last_part(Place("/a/b.rom")) == "b.rom"
    one = piece("x", places=(Place("/a/Beta.rom"), Place("/a/beta (1).rom"), Place("/a/alfa.rom")))
    assert readable(one) == "alfa.rom"
    assert readable(replace(one, places=())) == one.sha256[:8]
    assert readable(replace(one, places=(), written_as="BETA.ROM")) == "BETA.ROM"


def test_a_piece_without_a_place_is_named_by_its_digest():
    scene = bittern()
    scene.change("ee", places=(), vouches=())
    assert finding(scene.judge(), "unvouched").evidence[0].place == f"SHA-256 {sha('ee-1')}"


def test_the_version_resource_of_a_program_is_its_version():
    scene = bittern()
    scene.edit_role("writer", version=None)
    assert choice(scene.judge(), "writer").version is None


def test_a_fault_in_the_version_pattern_without_a_value():
    scene = bittern()
    scene.change("writer", matches=found("QUAYHAND {version}", "QUAYHAND"))
    assert choice(scene.judge(), "writer").version is None


def test_only_a_sibling_of_the_same_name_lends_its_device_list():
    scene = bittern()
    other = (BITTERN.vendor, BITTERN.bare)
    images = (image("legacy-x86", *other, (BITTERN.second,), last=False), image("efi", BITTERN.vendor, 0x0CFF))
    scene.pin("uefi-boot-rom", sha("ub-1"))
    scene.change("ub", kind="option-rom", reading=rom("x", *images).reading)
    assert {code for code, role, _ in stops(scene.judge()) if role == "uefi-boot-rom"} == {"other-family", "pin-broken"}


def test_an_image_that_the_reader_calls_hidden_is_hidden():
    scene = bittern()
    one = image("efi", *TARGET)
    scene.change("ub", reading=rom("x", replace(one, fields=(*one.fields, Field("hidden", True, 21, 1)))).reading)
    assert choice(scene.judge(), "uefi-boot-rom").others[0].why == ("image-hidden",)


def test_a_claim_by_version_takes_no_piece_without_one():
    family = bittern().family
    known = know(family, family.roles["legacy-boot-rom"])
    assert not known.claims(family.releases[0], sha("x"), None)
    assert known.claiming(sha("x"), None) == ()


def test_a_read_version_goes_before_an_unread_one():
    scene = heron()
    scene.edit(releases=())
    scene.edit_role("writer", decide=("has",))
    good = scene.change("writer", vouches=(named(),))
    scene.pieces["unread"] = replace(good, sha256=sha("unread"), matches=found("PIERHAND"))
    kit = scene.judge()
    assert choice(kit, "writer").version == "1.0-2"
    assert {one.piece: one.why for one in choice(kit, "writer").others} == {sha("unread"): ("older",)}


def test_what_was_tried_for_a_version():
    scene = bittern()
    scene.edit_role("legacy-boot-rom", version=None)
    scene.edit_release(0, "legacy-boot-rom", None)
    scene.edit_release(1, "legacy-boot-rom", Claim("8.30.0"))
    assert finding(scene.judge(), "version-unread", "legacy-boot-rom").evidence[0].want == "version resource"
    scene.edit_release(1, "eeprom-image", Claim("8.30.0"))
    assert finding(scene.judge(), "version-unread", "eeprom-image").evidence[0].want == "layout field version"


def test_withdrawn_shows_what_was_taken_back():
    scene = bittern()
    scene.edit(withdrawn=(Withdrawn("eeprom-image", None, sha("ee-1"), "wrong mode", "notice 16"),))
    assert finding(scene.judge(), "withdrawn").evidence[0].have == sha("ee-1")
    scene = alone()
    scene.edit(withdrawn=(Withdrawn("firmware", "12.04.0", None, "drops", "notice 17"),))
    assert finding(scene.judge(), "withdrawn").evidence[0].have == "12.04.0"


def test_blank_shows_where():
    scene = bittern()
    answer = replace(scene.pieces["ee"].layouts["bittern"], state="blank")
    scene.change("ee", layouts={"bittern": answer})
    (one,) = finding(scene.judge(), "blank").evidence
    assert (one.offset, one.length) == (0, 320)


def test_a_role_without_a_kind_takes_a_program():
    """ "A role without `kind` takes all but text, lists and archives": some firmware is a program by its header."""
    scene = alone()
    scene.change("fw", kind="linux-program", reading=Reading("elf", "linux-program", ""))
    assert scene.judge().verdict == "ready"


def test_ids_of_several_makers_in_what_is_no_rom_are_no_disagreement():
    scene = bittern()
    scene.edit_role("uefi-boot-rom", kind={ANY_BENCH: "capsule"})
    reading = Reading("capsule", "capsule", "", ids=(CardId(*TARGET), CardId(0xF999, 1)))
    scene.change("ub", kind="capsule", reading=reading)
    assert not choice(scene.judge(), "uefi-boot-rom").left_out


def test_contents_that_differ_in_more_than_padding_tie():
    scene = bittern()
    scene.change("ee", trimmed=sha("one"))
    scene.pieces["second"] = replace(scene.pieces["ee"], sha256=sha("second"), trimmed=sha("other"))
    assert choice(scene.judge(), "eeprom-image").pieces == ()
    scene.change("second", trimmed=None)
    scene.change("ee", trimmed=None)
    assert choice(scene.judge(), "eeprom-image").pieces == ()


@pytest.mark.parametrize("held", [True, False])
def test_stale_by_digest_says_whether_the_newer_release_is_held(held):
    scene = heron()
    newer = replace(scene.family.releases[0], name="autumn", date=scene.family.as_of, claims={
        "firmware": Claim(sha256=(sha("newer"),)),
    })  # fmt: skip
    scene.edit(releases=(*scene.family.releases, newer))
    if held:
        scene.pieces["newer"] = piece("newer", size=131_072)
        scene.pin("firmware", sha("heron-fw"))
    text = finding(scene.judge(), "stale").text
    assert text.startswith("A newer one is known (release autumn)")
    assert ("and lies in the catalogue" in text) == held


def test_not_taught_names_the_roles_it_is_silent_on():
    scene = bittern()
    scene.edit(card=replace(scene.family.card, flash=None))
    said = {one.field: one.have for one in finding(scene.judge(), "not-taught").evidence}
    assert said["wrong-size"] == "legacy-boot-rom, uefi-boot-rom"
    assert said["below-lowest"] == "legacy-boot-rom, uefi-boot-rom"
    assert said["version-unread"] == "uefi-boot-rom"
