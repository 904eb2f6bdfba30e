"""RUNSHEET.TXT: ASCII, CR LF, 79 columns, whatever a family or a person says; and the things it must say."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.errors import BadCall
from catalogue.families.model import Expects, Identity, IdPattern, Listing, Mode
from catalogue.media.plan import plan
from catalogue.media.run_sheet import plain, text
from catalogue.shapes.finding import ClearedBy, Evidence, Finding, Level
from catalogue.shapes.kit import Pin
from tests.media.making import CODE, FAMILY, FIRMWARE, KIT, NAMES, ROUTE, sha

hostile = st.text(st.characters(), max_size=200) | st.sampled_from(
    ["", "x" * 500, "\x1b[2J\x07", "a\r\nb", "\u202egnp", "é" * 90, "\udcff", "%PATH% | del *.*", " " * 100]
)


def sheet(kit=KIT, family=FAMILY):
    return text(kit, family, plan(kit, family))


def shaped(made):
    assert made.isascii()
    assert made.endswith("\r\n")
    lines = made.split("\r\n")
    assert all(line.isprintable() for line in lines)
    assert max(map(len, lines)) <= 79
    assert all(line == line.rstrip() for line in lines)


def test_the_sheet_of_a_real_route():
    made = sheet()
    shaped(made)
    for name in NAMES:
        assert name in made
    for typed in (
        "QUAYHAND.EXE look > CARD.TXT",
        "QUAYHAND.EXE keep __slot__ OLD.BIN",
        "QUAYHAND.EXE lay __slot__ EEPROM.BIN",
        "QUAYHAND.EXE load __slot__ FIRM1204.BIN PASS.ROM",
        "QUAYHAND.EXE name __slot__ __sas__ __serial__",
    ):
        assert f"        {typed}\r\n" in made
    assert made.count("Write down slot: ____") == 2
    assert "one card in the machine" in made
    assert "drives off" in made
    assert "a DOS bench machine" in made
    assert "card maker's own instructions come first" in made
    assert CODE in made
    assert "must be the same, byte for byte, as EEPROM.BIN" in " ".join(made.split())
    positions = [made.index(f"{number:>3}.  {step.name}: ") for number, step in enumerate(ROUTE.steps, 1)]
    assert positions == sorted(positions)
    assert made.count("RESTART") == 2


def test_cautions_travel_with_their_words_and_names():
    worded = Finding(
        "unvouched", Level.CAUTION, "Nothing vouches for it.", (Evidence("p"),), "r", True,
        ClearedBy("Ada Marsh", "compared with the maker's page"), "firmware", sha(FIRMWARE),
    )  # fmt: skip
    plain_one = Finding("never-ran", Level.CAUTION, "No card yet.", (Evidence("p"),), "Try one card first.")
    note = Finding("knowledge-old", Level.NOTE, "Old knowledge.", (Evidence("p"),), "Look again.")
    made = sheet(replace(KIT, findings=(worded, plain_one, note), pins=(Pin("firmware", sha(FIRMWARE), "it ran"),)))
    shaped(made)
    assert "unvouched (firmware, FIRM1204.BIN): Nothing vouches for it." in made
    assert "Word given by Ada Marsh: compared with the maker's page" in made
    assert "What to do: Try one card first." in made
    assert "Old knowledge" not in made
    assert "Chosen by hand for firmware: FIRM1204.BIN: it ran" in made


@given(hostile, hostile, hostile, hostile)
def test_no_text_of_a_family_or_a_person_breaks_the_sheet(one, two, three, four):
    finding = Finding(one, Level.CAUTION, two, (Evidence(three),), "r", True, ClearedBy(four, one), two, None)
    family = replace(
        FAMILY,
        title=one,
        routes=(
            replace(
                ROUTE,
                care=(two, three),
                unchecked=(four,),
                steps=tuple(
                    replace(step, say=two, name=three, learns=(four,), then=one, expects=Expects(text=two, same_as=one))
                    for step in ROUTE.steps
                ),
            ),
        ),
    )
    roles = tuple(replace(role, version=three) for role in KIT.roles)
    kit = replace(
        KIT, findings=(finding,), said=(one, two), pins=(Pin(three, sha(FIRMWARE), four),), roles=roles, id=one
    )
    shaped(sheet(kit, family))


@given(st.lists(st.text(st.characters(min_codepoint=33, max_codepoint=126), min_size=1, max_size=90), max_size=12))
def test_a_long_line_can_be_put_together_again_as_it_was(words):
    typed = " ".join(["{writer}", *(word.replace("{", "(").replace("}", ")") for word in words)])
    steps = (replace(ROUTE.steps[0], type=typed, makes=None, expects=None, learns=()),)
    made = sheet(family=replace(FAMILY, routes=(replace(ROUTE, steps=steps),)))
    shaped(made)
    lines = made[made.index("      Type") :].split("\r\n")
    assert lines[0].startswith("      Type")
    together = ""
    for line in lines[1 : lines.index("      Done ____")]:
        together += line.removeprefix("        ")
        broken_inside = len(line) == 79 and lines[0] != "      Type:"  # then a + stands at its end
        together = together[:-1] if broken_inside else f"{together} "
    assert together.rstrip() == typed.replace("{writer}", "QUAYHAND.EXE")


@pytest.mark.parametrize("typed", ["{writer} lösche", "{writer} a\tb", "{writer} \x1b"])
def test_a_line_that_no_bench_can_type_is_refused_not_altered(typed):
    steps = (replace(ROUTE.steps[0], type=typed),)
    with pytest.raises(BadCall, match="cannot type"):
        sheet(family=replace(FAMILY, routes=(replace(ROUTE, steps=steps),)))


def test_a_step_for_a_piece_that_was_left_out_says_so():
    steps = (replace(ROUTE.steps[6], type="{writer} load {uefi-boot-rom}", adds=()),)
    made = sheet(family=replace(FAMILY, routes=(replace(ROUTE, steps=steps),)))
    assert "Not for this kit: it has no uefi-boot-rom." in made
    assert "Type:" not in made


def test_plain_text_keeps_what_ascii_can_show():
    assert plain("Crème brûlée \u202e\x1b[31m \u4e2d") == "Creme brulee ? [31m ?"


def test_it_says_how_a_made_file_is_seen_and_compared_on_each_bench():
    for bench, show, compare in (
        ("dos", "TYPE CARD.TXT", "FC /B NEWCFG.BIN EEPROM.BIN"),
        ("uefi", "type CARD.TXT", "comp NEWCFG.BIN EEPROM.BIN"),
        ("linux", "cat CARD.TXT", "cmp NEWCFG.BIN EEPROM.BIN"),
    ):
        made = sheet(family=replace(FAMILY, routes=(replace(ROUTE, bench=bench),)))
        assert f"To see it: {show}\r\n" in made
        assert f"the command: {compare}\r\n" in made
        assert "To see it: TYPE OLD.BIN" not in made


def test_a_second_card_does_not_write_over_the_files_of_the_first():
    told = " ".join(sheet().split())
    names = ", ".join(step.makes for step in ROUTE.steps if step.makes)
    assert f"belong to one card: {names}. If one of them lies here before you begin, it is another card's" in told


def test_it_says_where_a_value_stands_and_what_the_card_must_show_in_the_end():
    sas = Identity("sas", "sas-address", find="Quay address ~ {value}")
    family = replace(
        FAMILY,
        listing=Listing("Berth ~ {slot}"),
        identities={"sas": sas, "serial": Identity("serial", "text")},
        modes={"pass": Mode("pass", (IdPattern(0xF234, 0x0C81),))},
    )
    told = " ".join(sheet(family=family).split())
    assert "Write down serial: ____" in told
    assert 'Write down slot (it stands after "Berth"): ____' in told
    assert 'Write down sas (it stands after "Quay address"): ____' in told
    assert "The card must now show mode pass (F234:0C81); if not, stop." in told
    assert "Compare sas and serial with what you wrote down: it must be the same" in told


def test_it_says_which_role_was_left_out():
    assert "  Left out of this kit: uefi-boot-rom.\r\n" in sheet()
    assert "Left out of this kit" not in sheet(replace(KIT, roles=tuple(one for one in KIT.roles if one.pieces)))


def test_every_step_that_destroys_says_when_it_may_be_typed():
    made = sheet()
    assert made.count("DESTROYS") == sum(bool(step.destroys) for step in ROUTE.steps) > 0
    assert made.count("Only when every step above is done and ticked.") == made.count("DESTROYS")


def test_the_command_that_proves_the_medium_stands_on_a_line_of_its_own():
    assert "\r\n    sha256sum -c SHA256.SUM\r\n" in sheet()
