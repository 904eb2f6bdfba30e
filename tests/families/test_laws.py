"""Each law: its fault planted in the sound example, told at its very line, and nothing else told."""
# ruff: noqa: E501  (a table of faults is read line by line)

from __future__ import annotations

import re
from pathlib import Path

import pytest

from catalogue.families import laws
from tests.families.sample import TEXT, line_of, load_text, planted, told

LIST = '  { name = "list", say = "List; one berth must show.", type = "{writer} look > {makes}", makes = "CARD.TXT", '
ROUTE = TEXT[TEXT.index("[[route]]") :]
PLAIN = """
[[route]]
id = "plain"
from = "raid"
to = "raid"
bench = "linux"
needs = []
step = [
STEPS]
"""


def check(tmp_path: Path, text: str, *wanted: tuple[str, str]) -> None:
    """Exactly these problems: (a part of the line, words)."""
    found = told(load_text(tmp_path, text))
    assert [line for line, _ in found] == sorted(line_of(text, part) for part, _ in wanted), found
    for part, words in wanted:
        assert any(line == line_of(text, part) and words in said for line, said in found), found


def only(*steps: str) -> str:
    """The example with a route of these steps instead of its own."""
    return TEXT.replace(ROUTE, "").replace('after = "scour"', 'after = "s0"') + PLAIN.replace(
        "STEPS", "".join(f'  {{ name = "s{n}", say = "x", {one} }},\n' for n, one in enumerate(steps))
    )


COMPARE = 'compares = ["mode", "sas", "serial"]'

EFFECTS = [
    # kept before destroyed
    ([('learns = ["slot", "sas", "serial"]', 'learns = ["slot", "serial"]')],
     [('name = "name", say', "{sas} is not learned")]),
    ([('saves = ["eeprom", "flash"]', 'saves = ["eeprom"]')],
     [('name = "scour"', "step scour destroys flash, but no earlier step saves it")]),
    ([('saves = ["eeprom", "flash"]', 'saves = ["flash"]')],
     [('name = "lay", say', "destroys eeprom, but no earlier step saves it")]),
    ([('saves = ["eeprom", "flash"]', 'saves = ["flash"], learns = ["eeprom"]')],
     [('name = "lay", say', "destroys eeprom, but no earlier step saves it")]),
    # written at or after
    ([('writes = ["sas", "serial"]', 'writes = ["sas"]')],
     [('name = "lay", say', "destroys the EEPROM, which holds serial, but neither"), ('name = "scour"', "serial")]),
    ([('destroys = ["eeprom"], writes = ["eeprom"]', 'destroys = ["eeprom"]')],
     [('name = "lay", say', "destroys eeprom, but neither it nor a later step writes")]),
    ([('{firmware}", adds = ["{legacy-boot-rom}", "{uefi-boot-rom}"], writes = ["flash"]', '{firmware}"')],
     [('name = "scour"', "destroys flash, but neither")]),
    ([('destroys = ["flash", "sas", "serial"]', 'destroys = ["flash", "sas", "serial", "slot"]'),
      ('makes = "BARE.TXT", learns = ["slot"]', 'makes = "BARE.TXT"'), ('{writer} load {slot} ', "{writer} load "),
      ('{writer} match {slot} ', "{writer} match "), ('{writer} name {slot} ', "{writer} name ")],
     [('name = "scour"', "slot, but neither it nor a later step learns")]),
    # said to be destroyed
    ([('destroys = ["eeprom"], writes = ["eeprom"]', 'writes = ["eeprom"]')],
     [('name = "lay", say', "writes eeprom, but neither it nor an earlier step says")]),
    ([('destroys = ["flash", "sas", "serial"]', 'destroys = ["sas", "serial"]')],
     [('name = "load", say', 'add destroys = ["flash"]')]),
    # checked
    ([('checks = ["eeprom"], ', "")], [('name = "lay", say', "step scour destroys flash, sas and serial before")]),
    ([('checks = ["flash"], ', "")], [('name = "load", say', "step name restarts before")]),
    ([('checks = ["eeprom"], ', ""), ("unchecked = []", 'unchecked = ["eeprom"]')], []),
    ([('destroys = ["eeprom"], writes = ["eeprom"]', 'destroys = ["eeprom"], writes = ["eeprom"], then = "restart"')],
     [('name = "lay", say', "step lay restarts before"), ('name = "lay-check"', "step lay restarted"),
      ('name = "scour"', "step lay restarted")]),
    # slot learned again
    ([('makes = "BARE.TXT", learns = ["slot"]', 'makes = "BARE.TXT"')],
     [('name = "load", say', "step scour restarted and no step has learned the slot since"),
      ('name = "load-check"', "types {slot}"), ('name = "name", say', "types {slot}")]),
    ([('adds = ["{legacy-boot-rom}", "{uefi-boot-rom}"]', 'adds = ["{legacy-boot-rom} {slot}"]'),
      ('{writer} load {slot} ', "{writer} load "), ('makes = "BARE.TXT", learns = ["slot"]', 'makes = "BARE.TXT"'),
      ('{writer} match {slot} ', "{writer} match "), ('{writer} name {slot} ', "{writer} name ")],
     [('name = "load", say', "types {slot}")]),
    # compared last
    ([('compares = ["mode", "sas", "serial"]', 'compares = ["mode", "sas"]')],
     [('name = "after"', "serial is not compared after step name, the last that destroys, writes or restarts")]),
    ([(', compares = ["mode", "sas", "serial"]', "")], [('name = "after"', "mode, sas and serial are not compared")]),
    ([('makes = "AFTER.TXT", ', 'makes = "AFTER.TXT", then = "restart", ')],
     [('name = "after"', "are not compared after step after")]),
]


@pytest.mark.parametrize(("changes", "wanted"), EFFECTS, ids=[str(n) for n in range(len(EFFECTS))])
def test_effects(tmp_path: Path, changes: list[tuple[str, str]], wanted: list[tuple[str, str]]) -> None:
    check(tmp_path, planted(*changes), *wanted)


def test_every_effect_that_is_deleted_is_told(tmp_path: Path) -> None:
    """Each effect list of the example, deleted whole, breaks a law."""
    lists = list(re.finditer(r'(?:learns|saves|destroys|writes|checks|compares) = \["[^\]]*\](?:, )?', ROUTE))
    assert len(lists) == 11
    survivors = []
    for one in lists:
        route = (ROUTE[: one.start()] + ROUTE[one.end() :]).replace(", }", " }")
        if not told(load_text(tmp_path, TEXT.replace(ROUTE, route))):
            survivors.append(one.group())
    assert survivors == []


def test_every_step_that_is_taken_out_or_moved_forward_is_told(tmp_path: Path) -> None:
    lines = TEXT.split("\n")
    steps = [n for n, line in enumerate(lines) if line.startswith("  { name =")]
    for number in steps:
        if number == steps[2]:  # without the step that lays the EEPROM, that EEPROM simply stays as it is
            continue
        text = "\n".join(lines[:number] + lines[number + 1 :])
        assert told(load_text(tmp_path, text)), lines[number]
    for number in (steps[2], steps[4], steps[6], steps[8]):  # lay, scour, load and name stand first
        rest = lines[:number] + lines[number + 1 :]
        assert told(load_text(tmp_path, "\n".join([*rest[: steps[0]], lines[number], *rest[steps[0] :]]))), lines[number]


@pytest.mark.parametrize(
    "steps",
    [
        ('learns = ["slot"]',),
        ('writes = ["flash"]', 'checks = ["flash"]', 'compares = ["mode"]'),
        ('writes = ["flash"], checks = ["flash"]', 'compares = ["mode"]'),
        ('saves = ["eeprom"]', 'destroys = ["eeprom"], writes = ["eeprom", "sas", "serial"]', 'checks = ["eeprom"]', COMPARE),
        ('saves = ["eeprom"]', 'destroys = ["eeprom"]', 'writes = ["eeprom", "sas", "serial"]',
         'checks = ["eeprom"], then = "restart"', 'compares = ["mode"]', 'compares = ["sas", "serial"]'),
        ('learns = ["sas"]', 'compares = ["mode"]'),
        ('learns = ["mode"]', 'destroys = ["mode"]', 'writes = ["mode"]', 'compares = ["mode"]'),
    ],
)
def test_sound_routes_are_left_alone(tmp_path: Path, steps: tuple[str, ...]) -> None:
    check(tmp_path, only(*steps))


@pytest.mark.parametrize(
    ("steps", "at", "words"),
    [
        (('destroys = ["sas"], saves = ["sas"], writes = ["sas"]', 'compares = ["mode", "sas"]'), "s0", "no earlier step"),
        (('writes = ["flash"]', 'compares = ["mode"]'), "s0", "no step checks it"),
        (('saves = ["flash"]', 'writes = ["flash"], checks = ["flash"]', 'compares = ["mode"]'), "s1", "says that it destroys"),
        (('learns = ["sas"]', 'destroys = ["mode"]', COMPARE), "s1", "no earlier step learns or saves it"),
        (('learns = ["sas"]', 'saves = ["flash"]', 'destroys = ["flash"]', 'writes = ["flash", "sas"]',
          'checks = ["flash"]', 'compares = ["mode", "sas"]'), "s3", "writes sas, but neither"),
        (('saves = ["flash"]', 'destroys = ["flash"]', 'writes = ["flash"]', 'destroys = ["flash"], checks = ["flash"]',
          'writes = ["flash"]', 'checks = ["flash"]', 'compares = ["mode"]'), "s2", "step s3 destroys flash before"),
        (('writes = ["eeprom"]', 'checks = ["eeprom"]'), "s1", "mode is not compared"),
    ],
)
def test_unsound_routes(tmp_path: Path, steps: tuple[str, ...], at: str, words: str) -> None:
    found = told(load_text(tmp_path, text := only(*steps)))
    assert any(words in said and line == line_of(text, f'"{at}", say') for line, said in found), found


LINES = [
    ('{writer} lay {slot} {eeprom-image}', '{writer} lay {slot} {eprom-image}', "is no role, no identity"),
    ('{writer} lay {slot} {eeprom-image}', '{writer} lay {slot} {uefi-boot-rom}', "stands for an optional role"),
    ('{writer} lay {slot} {eeprom-image}', '{writer} lay {slot} {eeprom}', "is an effect"),
    ('{writer} lay {slot} {eeprom-image}', '{writer} lay {slot} {makes}', "but it makes none"),
    ('{writer} lay {slot} {eeprom-image}', '{writer} lay {slot} {{eeprom-image}', "brace"),
    ('{writer} lay {slot} {eeprom-image}', '{slot} lay {eeprom-image}', "begins with {slot}"),
    ('{writer} lay {slot} {eeprom-image}', '{firmware} lay {slot}', "has no kind for the bench dos"),
    ('{writer} lay {slot} {eeprom-image}', '{writer} lay {slot} ' + "x" * 100, "can have 134 characters, 122 of them"),
    ('"CARD.TXT", ', '"CARDLIST.TEXT", ', "is no 8.3 name"),
    ('"CARD.TXT", ', '"card.txt", ', "upper case, as DOS shows it: CARD.TXT"),
    ('"CARD.TXT", ', '"NUL.TXT", ', "name of a device"),
    ('"CARD.TXT", ', '"KIT.JSN", ', "a file of its own"),
    ('"CARD.TXT", ', '"AUTOEXEC.BAT", ', "starts by itself"),
    ('"CARD.TXT", ', '"QHXTEND.BIN", ', "the companion of writer"),
    ('"CARD.TXT", ', '"ÄRD.TXT", ', "is no 8.3 name"),
    ('makes = "NEWCFG.BIN"', 'makes =  "OLD.BIN"', "what step save makes"),
    ('holds = ["sas"]', 'holds = ["sass"]', "no identity of this family"),
    ('same-as = "eeprom-image"', 'same-as = "eprom-image"', "no role of this route"),
    ('adds = ["{legacy-boot-rom}", ', 'adds = ["-v", ', "names no role's piece"),
]


@pytest.mark.parametrize(("old", "new", "words"), LINES, ids=[str(n) for n in range(len(LINES))])
def test_lines_and_made_files(tmp_path: Path, old: str, new: str, words: str) -> None:
    check(tmp_path, planted((old, new)), (new, words))


def test_a_role_that_the_route_does_not_have(tmp_path: Path) -> None:
    text = planted(('may = ["legacy-boot-rom", "uefi-boot-rom"]', 'may = ["legacy-boot-rom"]'))
    found = told(load_text(tmp_path, text))
    assert {line for line, _ in found} == {line_of(text, 'name = "load", say')}
    assert any("neither needs nor may have" in said for _, said in found)


def test_a_program_of_another_bench(tmp_path: Path) -> None:
    text = planted(('kind = { dos = "dos-program", uefi = "efi-application" }', 'kind = "efi-application"'))
    found = told(load_text(tmp_path, text))
    assert len(found) == len(re.findall("type =", ROUTE)) == 10
    assert all("but that role is efi-application; a program there is dos-program" in said for _, said in found)


@pytest.mark.parametrize(("bench", "sound"), [("linux", True), ("uefi", False), ("clip", True)])
def test_what_runs_on_a_bench(tmp_path: Path, bench: str, sound: bool) -> None:
    text = only('type = "./{writer} look"').replace('bench = "linux"', f'bench = "{bench}"')
    text = text.replace("needs = []", 'needs = ["writer"]').replace(
        'kind = { dos = "dos-program", uefi = "efi-application" }', 'kind = "linux-program"'
    )
    assert bool(told(load_text(tmp_path, text))) is not sound


def test_long_lines_are_dos_only(tmp_path: Path) -> None:
    line = 'type = "sh ' + "x" * 300 + '"'
    check(tmp_path, only(line))
    assert "DOS takes 127" in told(load_text(tmp_path, only(line).replace('"linux"', '"dos"')))[0][1]


@pytest.mark.parametrize(("length", "sound"), [(127, True), (128, False)])
def test_the_longest_line_that_fits(tmp_path: Path, length: int, sound: bool) -> None:
    line = "{writer} lay {slot} {eeprom-image} "
    filled = len("12345678.123 lay ") + 16 + 1 + 12 + 1
    text = planted(('"{writer} lay {slot} {eeprom-image}"', f'"{line}{"x" * (length - filled)}"'))
    assert bool(told(load_text(tmp_path, text))) is not sound


@pytest.mark.parametrize(("program", "sound"), [("x", True), ("xx", False)])
def test_the_longest_tail_that_fits(tmp_path: Path, program: str, sound: bool) -> None:
    text = only(f'type = "{program} {"x" * 125}"').replace('"linux"', '"dos"')
    assert bool(told(load_text(tmp_path, text))) is not sound


@pytest.mark.parametrize(
    ("old", "new", "length"),
    [
        ("{sas} {serial}", "{sas}", 12 + 6 + 16 + 1 + 16),
        ("{sas} {serial}", "{serial}", 12 + 6 + 16 + 1 + 16),
        ('typed = ["no-separators", "upper"]', 'typed = ["upper"]', 12 + 6 + 16 + 1 + 23 + 1 + 16),
        ('is = "identity.serial"', 'is = "serial"', 12 + 6 + 16 + 1 + 16 + 1 + 32),
    ],
)
def test_how_long_a_line_can_become(tmp_path: Path, old: str, new: str, length: int) -> None:
    from catalogue.families.templates import longest_line

    family = load_text(tmp_path, planted((old, new))).family
    assert family is not None
    step = next(one for one in family.routes[0].steps if one.name == "name")
    assert longest_line(family, step) == (length, length - 12)


NAMES = [
    ("[identity.serial]", "[identity.flash]", "cannot be called flash"),
    ("[role.writer]", "[role.makes]", "cannot be called makes"),
    ("[role.writer]", "[role.date]", "cannot be called date"),
    ("[role.writer]", "[role.serial]", "the name of a role and of an identity"),
    ('decide = ["layout"]', 'decide = ["layout", "ids"]', "is decided by ids, but has no ids"),
    ('decide = ["layout"]\n', "\n", "nothing decides whether a piece fits"),
    ('has = { raid = "BITTERN RD"', 'has = { raaid = "BITTERN RD"', "there is raid or pass"),
    ('layout = "bittern"', 'layout = "biterne"', "there is bittern"),
    ('find = "Quay address ~ {value}" ', 'column = "Quay address" ', "columns = true"),
    ('is = "identity.sas"', 'is = "identity.sass"', "did you mean sas?"),
    ('firmware = { version = "12', 'firmwear = { version = "12', "did you mean firmware?"),
    ('role = "firmware"', 'role = "firmwear"', "did you mean firmware?"),
    ('after = "scour"', 'after = "scower"', "did you mean scour?"),
    ('to = "pass"\n', 'to = "passs"\n', "there is raid or pass"),
    ('needs = ["firmware", ', 'needs = ["firmware", "firmwear", ', "did you mean firmware?"),
    ('may = ["legacy-boot-rom"', 'may = ["firmware", "legacy-boot-rom"', "needs firmware and may have it"),
    ('name = "list-bare"', 'name =  "list"', "two steps"),
    ('checks = ["flash"]', 'checks = ["flash", "flsh"]', "did you mean flash?"),
    ("unchecked = []", 'unchecked = ["firmware"]', "it must be eeprom, flash, mode, slot, sas or serial"),
]


@pytest.mark.parametrize(("old", "new", "words"), NAMES, ids=[str(n) for n in range(len(NAMES))])
def test_names(tmp_path: Path, old: str, new: str, words: str) -> None:
    text = planted((old, new))
    found = [line for line, said in told(load_text(tmp_path, text)) if words in said]
    part = "[role.eeprom-image]" if "nothing decides" in words else new
    assert found == [line_of(text, part)]


def test_two_of_one_name(tmp_path: Path) -> None:
    text = TEXT + '\n[[release]]\nname = "twelve" \ndate = 2026-02-11\n' + ROUTE.replace('dos"\nfrom', 'dos" \nfrom')
    check(
        tmp_path, text,
        ('name = "twelve" ', "two releases are called"), ('id = "raid-to-pass-dos" \n', "two routes are called"),
    )


@pytest.mark.parametrize("more", ['lowest = "1"', ""])
def test_an_order_where_versions_are_compared(tmp_path: Path, more: str) -> None:
    text = planted(('order = "numeric"\n', ""), ('lowest = "9.00.0"', more), ('from = "3.10", to = "3.99"', 'version = "3"'))
    check(tmp_path, text, *([('lowest = "1"', "no order of versions")] if more else []))
    text = planted(('order = "numeric"\n', ""), ('lowest = "9.00.0"', 'order = "debian"'))
    check(tmp_path, text, ("[role.writer]", "no order of versions"))


LAYOUTS = [
    ("{ at = 0x12,", "{ at = 0x11,", "mode.device at 0x11 overlaps mode.vendor at 0x10"),
    ("{ at = 0x60,", "{ at = 0x131,", "ends at 0x141, beyond the size 0x140"),
    ('is = "mode.device"', 'is =  "mode.vendor"', "two fields for mode.vendor"),
    ("magic = { at = 0,", "magic = { at = 317,", "the magic ends beyond the size"),
    ("to = 0x140, total = 0", "to = 0x141, total = 0", "range ends at 0x141"),
    ("from = 0, to = 0x140, total = 0", "from = 4, to = 4, total = 0", "range is empty"),
    ('as = "sum8", from = 0, to = 0x140, total = 0', 'as = "sum16le", from = 0, to = 0x13F, total = 0', "even number"),
    ("to = 0x140, total = 0", "to = 0x140, at = 0x13F", "inside the range"),
    ("to = 0x140, total = 0", "to = 0x140, at = 0x140", "stored at 0x140, where it ends beyond"),
    ('as = "sum8", from = 0, to = 0x140, total = 0', 'as = "crc32", from = 4, to = 0x140, at = 1', "inside the range"),
]


@pytest.mark.parametrize(("old", "new", "words"), LAYOUTS, ids=[str(n) for n in range(len(LAYOUTS))])
def test_layouts(tmp_path: Path, old: str, new: str, words: str) -> None:
    check(tmp_path, planted((old, new)), (new, words))


@pytest.mark.parametrize("new", ["to = 0x13F, at = 0x13F", "to = 0x13C, at = 0x13E"])
def test_a_sum_stored_beside_its_range(tmp_path: Path, new: str) -> None:
    check(tmp_path, planted(("to = 0x140, total = 0", new)))


SAME = [
    ('decide = ["hash", "ids"]\nids = "to"\nversion', 'decide = ["hash"]\nversion'),
    ('decide = ["hash", "ids"]\nids = "to"\n[role.eeprom', 'decide = ["hash"]\n[role.eeprom'),
    ('  { at = 0x10, as = "u16le", is = "mode.vendor" },\n', ""),
    ('  { at = 0x12, as = "u16le", is = "mode.device" },\n', ""),
]
STRINGS = 'has = { raid = "BITTERN RD", pass = "BITTERN PT" }'


@pytest.mark.parametrize(
    ("has", "told_apart"),
    [
        (STRINGS, True),
        ('has = { raid = "BITTERN", pass = "BITTERN PT" }', False),
        ('has = { raid = "BITTERN RD", pass = "BITTERN RD" }', False),
        ('has = { raid = "BITTERNRD", pass = "BITTERN" }', True),
        ('has = { raid = "BITTERN RD" }', True),
        ('has = "BITTERN"', False),
        ('has = { }', None),
        ('ids = ["F234:0C80"]\nhas = "BITTERN"\ndecide = ["ids"]', True),
        ('ids = ["F234:0C80", "F234:0C81"]\nhas = "BITTERN"\ndecide = ["ids"]', False),
        ('ids = "from"\nhas = "BITTERN"\ndecide = ["ids"]', True),
    ],
)
def test_modes_that_nothing_tells_apart(tmp_path: Path, has: str, told_apart: bool | None) -> None:
    changes = [*SAME, (STRINGS, has)]
    if "decide" in has:
        changes.append(('written = true\ndecide = ["hash", "has"]\n', "written = true\n"))
    found = told(load_text(tmp_path, text := planted(*changes)))
    assert [line for line, said in found if "nothing tells" in said] == (
        [line_of(text, "[mode.pass]")] if told_apart is False else []
    )


def test_a_layout_that_tells_modes_apart(tmp_path: Path) -> None:
    check(tmp_path, planted(SAME[0], SAME[1], (STRINGS, 'has = "BITTERN"')))
    check(
        tmp_path, planted(SAME[0], SAME[1], SAME[3], (STRINGS, 'has = "BITTERN"')), ("[mode.pass]", "nothing tells mode raid"),
    )


def test_ids_in_common_tell_nothing(tmp_path: Path) -> None:
    text = planted(('ids = ["F234:0C81"]', 'ids = ["F234:0C80"]'), (STRINGS, 'has = "BITTERN"'))
    check(tmp_path, text, ("[mode.pass]", "nothing tells"))
    text = planted(('ids = ["F234:0C81"]', 'ids = ["F234:0C80", "F234:0C81"]'), *SAME[2:], (STRINGS, 'has = "BITTERN"'))
    check(tmp_path, text, ("[mode.pass]", "nothing tells"))


def test_each_law_has_a_manual_with_a_fine_and_a_refused_case() -> None:
    for law in (*laws.FAMILY_LAWS, *laws.ROUTE_LAWS):
        assert law.__doc__ is not None
        assert "Fine:" in law.__doc__
        assert "Refused:" in law.__doc__
