"""Filled command lines: this kit's names, each piece once, the longest values a card can give."""

from __future__ import annotations

from dataclasses import replace

import pytest

from catalogue.families.model import Step
from catalogue.media.lines import DOS_LINE, filled, longest, tail
from catalogue.media.plan import plan
from catalogue.shapes.kit import RoleChoice
from tests.media.making import FAMILY, KIT, LEGACY, ROLES, ROUTE, sha

PLAN = plan(KIT, FAMILY)


def line(text, kit_plan=PLAN, **more):
    return filled(Step("s", "say", text, **more), FAMILY, kit_plan, lambda name: f"<{name}>")


def test_names_learned_values_and_made_files_stand_where_their_placeholders_were():
    made = line("{writer} keep {slot} {makes}", makes="OLD.BIN")
    assert (made.text, made.learned, made.missing) == ("QUAYHAND.EXE keep <slot> OLD.BIN", ("slot",), ())


def test_adds_go_to_the_end_where_their_piece_is_in_the_kit():
    made = line("{writer} load {slot} {firmware}", adds=("-b {legacy-boot-rom}", "-u {uefi-boot-rom}"))
    assert made.text == "QUAYHAND.EXE load <slot> FIRM1204.BIN -b PASS.ROM"


def test_a_piece_in_two_roles_is_typed_once():
    roles = (*ROLES[:4], RoleChoice("uefi-boot-rom", False, True, (sha(LEGACY),)))
    made = line("{writer} load {legacy-boot-rom} {uefi-boot-rom} end", plan(replace(KIT, roles=roles), FAMILY))
    assert made.text == "QUAYHAND.EXE load PASS.ROM end"
    made = line("{writer} load {firmware}", plan(replace(KIT, roles=roles), FAMILY),
                adds=("{legacy-boot-rom}", "{uefi-boot-rom}"))  # fmt: skip
    assert made.text == "QUAYHAND.EXE load FIRM1204.BIN PASS.ROM"


def test_a_line_for_a_piece_that_was_left_out_is_not_typed():
    assert line("{writer} load {uefi-boot-rom}").missing == ("uefi-boot-rom",)
    assert longest(Step("s", "say", "{writer} load {uefi-boot-rom}"), FAMILY, PLAN) is None


def test_a_linux_bench_finds_its_program_in_the_folder():
    assert line("{writer} look", replace(PLAN, bench="linux")).text == "./QUAYHAND.EXE look"
    assert line("flashwriter look {writer}", replace(PLAN, bench="linux")).text == "flashwriter look QUAYHAND.EXE"


def test_blanks_inside_a_line_stay_as_the_family_gives_them():
    assert line('{writer} say "two  blanks"').text == 'QUAYHAND.EXE say "two  blanks"'


@pytest.mark.parametrize("text", ["{", "}", "{}", "a{b", "{{slot}}", "a}b{"])
def test_odd_braces_never_raise(text):
    assert line(text) is not None


def test_a_step_that_types_nothing_has_no_line():
    assert line(None) is None


def test_the_longest_form_of_a_line_counts_every_value_at_its_most():
    made = longest(ROUTE.steps[7], FAMILY, PLAN)
    assert len(made) == len("QUAYHAND.EXE name   ") + 16 + 16 + 32
    assert len(made) <= DOS_LINE


def test_the_tail_is_what_the_program_is_handed():
    assert tail("A.EXE keep 1 > OUT.TXT") == " keep 1"
    assert tail("A.EXE") == ""
