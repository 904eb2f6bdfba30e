"""The plan of a kit's folder: one name a piece, companions under their own, no name that a step makes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from catalogue.errors import BadCall
from catalogue.families.model import Role
from catalogue.media.names83 import is_plain
from catalogue.media.plan import RESERVED, plan
from catalogue.shapes.kit import RoleChoice
from tests.media.making import (
    CODE,
    EXTEND,
    FAMILY,
    FIRMWARE,
    KIT,
    LEGACY,
    NAMES,
    PIECES,
    ROLES,
    ROUTE,
    WRITER,
    piece,
    sha,
)


def test_every_piece_has_one_plain_name_and_the_folder_its_code():
    made = plan(KIT, FAMILY)
    assert made.code == CODE
    assert made.bench == "dos"
    assert {one.name for one in made.files} == NAMES
    assert all(is_plain(one.name) for one in made.files)
    assert made.clashes == ()
    assert made.of_role("firmware").sha256 == sha(FIRMWARE)
    assert made.of_role("writer").name == "QUAYHAND.EXE"
    assert made.of_role("uefi-boot-rom") is None


def test_a_companion_keeps_the_name_that_its_utility_looks_for():
    companion = next(one for one in plan(KIT, FAMILY).files if one.companion)
    assert (companion.name, companion.sha256, companion.roles) == ("QHXTEND.BIN", sha(EXTEND), ("writer",))


def test_a_companion_that_lay_under_another_name_still_gets_its_own():
    pieces = tuple(replace(one, name="download-1") if one.sha256 == sha(EXTEND) else one for one in KIT.pieces)
    assert {one.name for one in plan(replace(KIT, pieces=pieces), FAMILY).files} == NAMES


def test_companions_are_told_apart_by_the_name_they_had_whatever_their_order():
    first, second = piece(b"1", "opaque", "QHA.BIN"), piece(b"2", "opaque", "qhb.bin")
    family = replace(FAMILY, roles={**FAMILY.roles, "writer": Role("writer", companions={"*": ("QHA.BIN", "QHB.BIN")})})
    roles = (RoleChoice("writer", True, False, (sha(WRITER), second.sha256, first.sha256)),)
    made = plan(replace(KIT, roles=roles, pieces=(*PIECES, first, second)), family)
    assert {one.name: one.sha256 for one in made.files if one.companion} == {
        "QHA.BIN": first.sha256,
        "QHB.BIN": second.sha256,
    }


def test_one_content_under_two_companions_names_is_two_files():
    roles = {**FAMILY.roles, "writer": Role("writer", companions={"dos": ("QHXTEND.BIN", "QHXCOPY.BIN")})}
    made = plan(KIT, replace(FAMILY, roles=roles))
    assert {one.name for one in made.files if one.companion} == {"QHXTEND.BIN", "QHXCOPY.BIN"}
    assert made.clashes == ()


def test_a_companion_that_the_kit_does_not_tell_apart_is_a_clash():
    roles = {**FAMILY.roles, "writer": Role("writer", companions={"dos": ("QHXTEND.BIN", "B.BIN", "C.BIN")})}
    second = piece(b"2", "opaque", "b.bin")
    choices = (replace(ROLES[2], pieces=(*ROLES[2].pieces, second.sha256)),)
    made = plan(replace(KIT, roles=choices, pieces=(*PIECES, second)), replace(FAMILY, roles=roles))
    assert [one.name for one in made.clashes] == ["C.BIN"]


def test_one_piece_in_two_roles_is_one_file():
    roles = (
        *ROLES[:3],
        replace(ROLES[3], pieces=(sha(LEGACY),)),
        RoleChoice("uefi-boot-rom", False, True, (sha(LEGACY),)),
    )
    made = plan(replace(KIT, roles=roles), FAMILY)
    assert [one.name for one in made.files if one.sha256 == sha(LEGACY)] == ["PASS.ROM"]
    assert made.of_role("uefi-boot-rom") == made.of_role("legacy-boot-rom")
    assert made.of_role("uefi-boot-rom").roles == ("legacy-boot-rom", "uefi-boot-rom")


def test_no_piece_takes_a_name_that_a_step_makes_or_that_is_ours():
    for had in ("old.bin", "card.txt", "kit.jsn", "runsheet.txt", "sha256.sum", "halfway.kit"):
        pieces = tuple(replace(one, name=had) if one.sha256 == sha(FIRMWARE) else one for one in PIECES)
        made = plan(replace(KIT, pieces=pieces), FAMILY)
        name = made.of_role("firmware").name
        assert name != had.upper()
        assert name not in RESERVED


@pytest.mark.parametrize(
    ("kind", "had", "name"),
    [
        ("dos-program", "TOOL.COM", "TOOL.COM"),
        ("dos-program", "tool", "TOOL.EXE"),
        ("dos-program", "tool.exe", "TOOL.EXE"),
        ("dos-program", "copy.exe", "WRITE314.EXE"),
        ("dos-program", "run.exe", "WRITE314.EXE"),
        ("efi-application", "tool.bin", "TOOL.EFI"),
        ("windows-program", "tool.dat", "TOOL.EXE"),
        ("linux-program", "tool", "TOOL"),
        ("linux-program", "quayhand-linux.x86", "WRITE314.X86"),
        ("opaque", "tool.exe", "WRITE314.BIN"),
        ("option-rom", "tool.longish", "WRITE314.ROM"),
        ("efi-driver", "snp.efi", "SNP.EFI"),
    ],
)
def test_a_program_gets_the_extension_that_its_bench_runs(kind, had, name):
    pieces = (replace(PIECES[3], kind=kind, name=had), PIECES[4])
    made = plan(replace(KIT, roles=(ROLES[2],), pieces=pieces), FAMILY)
    assert made.of_role("writer").name == name


@pytest.mark.parametrize("name", ["aux.dll", "toolongname.bin", "a b.bin", "OLD.BIN", "KIT.JSN", "é.bin"])
def test_a_companion_whose_name_a_dos_bench_cannot_hold_is_a_clash(name):
    family = replace(FAMILY, roles={**FAMILY.roles, "writer": Role("writer", companions={"dos": (name,)})})
    assert [one.role for one in plan(KIT, family).clashes] == ["writer"]


@pytest.mark.parametrize("name", ["../x", "a/b", "a\\b", "nul", "a\nb", ".", "x" * 300, "a:b", "a\udcff"])
def test_no_companion_leaves_its_folder_on_any_bench(name):
    route = replace(ROUTE, bench="linux")
    roles = {**FAMILY.roles, "writer": Role("writer", companions={"linux": (name,)})}
    made = plan(KIT, replace(FAMILY, routes=(route,), roles=roles))
    assert made.clashes
    assert name not in {one.name for one in made.files}


def test_a_linux_companion_keeps_its_long_name_as_it_is_spelt():
    route = replace(ROUTE, bench="linux")
    roles = {**FAMILY.roles, "writer": Role("writer", companions={"linux": ("libquay.so.2",)})}
    made = plan(KIT, replace(FAMILY, routes=(route,), roles=roles))
    assert "libquay.so.2" in {one.name for one in made.files}


def test_two_companions_of_one_name_with_other_bytes_are_a_clash():
    other = piece(b"other", "opaque", "qhxtend.bin")
    family = replace(FAMILY, roles={**FAMILY.roles, "firmware": Role("firmware", companions={"*": ("qhxtend.bin",)})})
    roles = (RoleChoice("firmware", True, True, (sha(FIRMWARE), other.sha256)), *ROLES[1:])
    made = plan(replace(KIT, roles=roles, pieces=(*PIECES, other)), family)
    assert [one.name for one in made.clashes] == ["QHXTEND.BIN"]


def test_a_route_that_would_write_over_our_own_papers_is_a_clash():
    steps = (replace(ROUTE.steps[0], makes="KIT.JSN"),)
    made = plan(KIT, replace(FAMILY, routes=(replace(ROUTE, steps=steps),)))
    assert [one.name for one in made.clashes] == ["KIT.JSN"]


def test_a_route_that_the_family_does_not_have_is_said():
    with pytest.raises(BadCall, match="no route"):
        plan(replace(KIT, route="gone"), FAMILY)
