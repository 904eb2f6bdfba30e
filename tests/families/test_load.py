"""The schema of family-file.md, read strictly: the example is sound, each planted fault is told at its very line."""
# ruff: noqa: E501  (a table of faults is read line by line)

from __future__ import annotations

import hashlib
import os
import re
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from catalogue.families.limits import MAX_FILE_BYTES, MAX_FILES, MAX_LIST, MAX_PROBLEMS, MAX_TEXT
from catalogue.families.load import files_of, load_file
from catalogue.families.model import ANY_BENCH, ANY_MODE, Claim, Expects, IdPattern, Key, Revision
from catalogue.families.where import place
from catalogue.shapes.layout import LayoutField, LayoutSum
from tests.families.sample import FILE, TEXT, line_of, load_text, planted, told


def test_the_contract_example_is_sound() -> None:
    loaded = load_file(FILE)
    assert loaded.problems == ()
    assert loaded.sha256 == hashlib.sha256(FILE.read_bytes()).hexdigest()
    family = loaded.family
    assert family is not None
    assert (family.id, family.title, family.as_of, family.order) == (
        "corvane-bittern", "Corvane Bittern", date(2026, 3, 1), "numeric",
    )
    assert not family.settled
    assert family.card.flash == 8_388_608
    assert family.card.revision == Revision("Board issue ~ {value}", ("C", "D"))
    assert family.modes["raid"].ids == (IdPattern(0xF234, 0x0C80),)
    assert family.modes["pass"].class_code == 0x010700
    assert family.states["bare"].after == "scour"
    assert family.listing is not None
    assert family.listing.block == "Berth ~ {slot}"
    assert family.identities["sas"].ouis == (0xF23401,)
    assert family.identities["sas"].span == 8
    assert family.identities["serial"].typed == ("strip-zeros",)
    assert family.roles["firmware"].has == {"raid": "BITTERN RD", "pass": "BITTERN PT"}
    assert family.roles["firmware"].size == (65_536, 2_097_152)
    assert family.roles["legacy-boot-rom"].kind == {ANY_BENCH: "option-rom/legacy-x86"}
    assert family.roles["writer"].kind == {"dos": "dos-program", "uefi": "efi-application"}
    assert family.roles["writer"].has == {ANY_MODE: "QUAYHAND"}
    assert family.roles["writer"].companions == {"dos": ("QHXTEND.BIN",)}
    layout = family.layouts["bittern"]
    assert (layout.size, layout.magic_at, layout.magic) == (320, 0, bytes.fromhex("C01208A5"))
    assert layout.sum == LayoutSum("sum8", 0, 0x140, 0)
    assert layout.fields[0] == LayoutField(0x10, "u16le", 2, "mode.vendor", (0x00, 0xFF))
    assert layout.fields[3] == LayoutField(0x60, "ascii", 16, "identity.serial", (0x00, 0x20, 0xFF))
    assert family.keys == (Key("Corvane releases 2025", hashlib.sha256(b"digest 1").hexdigest()),)
    assert family.releases[0].claims["firmware"] == Claim(
        "12.04.0", ("0C040000",), (hashlib.sha256(b"digest 2").hexdigest(),)
    )
    assert family.releases[0].claims["writer"] == Claim(least="3.10", most="3.99")
    assert family.withdrawn[0].version == "12.02.0"
    route = family.routes[0]
    assert (route.id, route.source_mode, route.target_mode, route.bench) == ("raid-to-pass-dos", "raid", "pass", "dos")
    assert route.may == ("legacy-boot-rom", "uefi-boot-rom")
    assert route.steps[1].expects == Expects(blank=False, holds=("sas",))
    assert route.steps[3].expects == Expects(same_as="eeprom-image")
    assert route.steps[4].then == "restart"
    assert route.steps[6].adds == ("{legacy-boot-rom}", "{uefi-boot-rom}")


def test_what_may_be_left_out_or_put_otherwise(tmp_path: Path) -> None:
    text = planted(
        ("size = [65_536, 2_097_152]", "size = 65_536"),
        ('revision = { find = "Board issue ~ {value}", allowed = ["C", "D"] } ', "# "),
        ('with = { dos = ["QHXTEND.BIN"] }', 'with = ["QHXTEND.BIN"]'),
        ('kind = { dos = "dos-program", uefi = "efi-application" }', 'kind = "dos-program"'),
        ('mix = "stop"', "# "),
        ('# stepping = { least = "9.00.0" }', 'stepping = { least = "9.00.0" }'),
        ("# revoked = 2026-05-01", "revoked = 2026-05-01"),
        ("sum = {", "# "),
        ('has = "QUAYHAND"', 'has = "QUAYHAND "'),
    )
    loaded = load_text(tmp_path, text)
    assert loaded.problems == ()
    family = loaded.family
    assert family is not None
    assert family.roles["firmware"].size == (65_536, 65_536)
    assert family.card.revision is None
    assert family.roles["writer"].companions == {ANY_BENCH: ("QHXTEND.BIN",)}
    assert family.releases[0].mix == "stop"
    assert family.routes[0].stepping_least == "9.00.0"
    assert family.keys[0].revoked == date(2026, 5, 1)
    assert family.layouts["bittern"].sum is None


def test_the_least_that_a_family_says(tmp_path: Path) -> None:
    loaded = load_text(tmp_path, 'schema = 1\nid = "x"\ntitle = "x"\nas_of = 2026-03-01\n[mode.a]\nids = ["F234:0001"]\n')
    assert loaded.problems == ()
    assert loaded.family is not None
    assert (loaded.family.order, loaded.family.card.controllers, loaded.family.routes) == ("numeric", 1, ())


def test_files_already_read_have_a_bound(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("catalogue.families.load.MAX_KNOWN", 1)
    for number in range(3):
        assert load_text(tmp_path, TEXT + f"# {number}").problems == ()


def test_lines_lead_to_the_very_line() -> None:
    family = load_file(FILE).family
    assert family is not None
    assert family.lines["route[0].step[4].destroys"] == line_of(TEXT, '{ name = "scour"')
    assert family.lines["role.firmware.has"] == line_of(TEXT, 'has = { raid = "BITTERN RD"')
    assert family.lines["release[0].firmware"] == line_of(TEXT, "firmware = { version")
    assert place(family, "release[0].firmware.nothing[2].there") == (str(FILE), line_of(TEXT, "firmware = { version"))
    assert place(family, "nothing") == (str(FILE), 1)


@pytest.mark.parametrize("change", ["crlf", "bom"])
def test_line_ends_and_a_mark_of_windows_editors(tmp_path: Path, change: str) -> None:
    text = planted(("size = 320", "size = 0"))
    data = text.replace("\n", "\r\n").encode() if change == "crlf" else b"\xef\xbb\xbf" + text.encode()
    assert told(load_text(tmp_path, data))[0][0] == line_of(text, "size = 0")
    sound = TEXT.replace("\n", "\r\n").encode() if change == "crlf" else b"\xef\xbb\xbf" + TEXT.encode()
    assert load_text(tmp_path, sound).problems == ()


# what is replaced, by what; a part of the line it is told at ("" for the replacement); words of the problem
FAULTS = [
    ("schema = 1", "schema = 2", "", "this program reads schema 1"),
    ("schema = 1\n", "", 'id = "corvane-bittern"', "schema is missing"),
    ("schema = 1", "schema = true", "", "must be a whole number"),
    ('title = "Corvane Bittern"', 'title = ""', "", "title is empty"),
    ('title = "Corvane Bittern"', "title = 7", "", "must be a text in quotes"),
    ('title = "Corvane Bittern"', 'title = "a\\u0007b"', "", "cannot be shown"),
    ('title = "Corvane Bittern"', f'title = "{"x" * (MAX_TEXT + 1)}"', "", "longer than"),
    ('title = "Corvane Bittern"', 'title = "Corvane Bittern"\ntitel = 1', "titel", 'unknown key "titel"; did you mean title?'),
    ("as_of = 2026-03-01", 'as_of = "2026-03-01"', "", "must be a date"),
    ("as_of = 2026-03-01", "as_of = 2026-03-01T10:00:00Z", "", "must be a date"),
    ("as_of = 2026-03-01", "as_of = 0026-03-01", "", "no family file was written then"),
    ('order = "numeric"', 'order = "numerical"', "", "did you mean numeric?"),
    ('order = "numeric"', 'order = "numeric"\nextends = "corvane-heron"\nsubsystems = []', 'extends = "corvane-heron"', "none of the folders"),
    ('order = "numeric"', 'order = "numeric"\nsubsystems = ["F234"]', '["F234"]', "a subsystem is"),
    ("controllers = 1", "controllers = 0", "", "must lie between 1 and 16"),
    ('find = "Board issue ~ {value}"', 'find = "Board issue"', "", "{value} must stand in it"),
    ('allowed = ["C", "D"]', "allowed = []", "", "needs at least 1 entry"),
    ('allowed = ["C", "D"]', 'allowed = ["C", "C"]', "", 'holds "C" twice'),
    ('ids = ["F234:0C80"]', 'ids = ["F234-0C80"]', "", "four hex digits"),
    ('ids = ["F234:0C80"]', 'ids = ["0000:0C80"]', "", "belong to nobody"),
    ('ids = ["F234:0C80"]', 'ids = "F234:0C80"', "", "must be a list"),
    ('ids = ["F234:0C80"]', 'ids = ["F234:0C80", "f234:0c80"]', "", "twice"),
    ('class = "010400"', 'class = "1040"', "", "six hex digits"),
    ('[mode.raid]\nids', '[mode."ra id"]\nids', "ra id", "is no name"),
    ('after = "scour"', 'befor = "x"', "[state.bare]", "after is missing"),
    ('block = "Berth ~ {slot}"', 'block = "Berth ~ {slot}"\ncolumns = true', "[listing]", "either block, or columns"),
    ('block = "Berth ~ {slot}"', "columns = 1", "", "true or false"),
    ('block = "Berth ~ {slot}"', 'block = "Berth ~ {value}"', "", "only {slot}"),
    ('as = "sas-address"', 'as = "sas"', "", "must be sas-address, mac or text"),
    ('find = "Quay address ~ {value}"', 'find = "Quay address ~ {value}"\ncolumn = "Quay"', 'column = "Quay"', "stands beside find"),
    ('typed = ["no-separators", "upper"]', 'typed = ["lower", "upper"]', "", "asks for upper and for lower"),
    ('typed = ["no-separators", "upper"]', 'typed = ["uper"]', "", "did you mean upper?"),
    ('typed = ["no-separators", "upper"]', 'typed = ["upper", "upper"]', "", "twice"),
    ('as = "text"', 'as = "text"\nspan = 2', "span = 2", "belongs to addresses"),
    ("ouis = [\"F23401\"]", "ouis = [\"F234\"]", "", "six hex digits"),
    ('written = true\ndecide = ["hash", "has"]', 'written = "yes"\ndecide = ["hash", "has"]', "written = \"yes\"", "true or"),
    ('decide = ["layout"]', 'decide = ["layouts"]', "", "did you mean layout?"),
    ('kind = "option-rom/efi"', 'kind = "option-rom/uefi"', "", "which is no kind"),
    ('kind = "option-rom/efi"', 'kind = "archive/zip"', "", "an archive fills no role"),
    ('kind = "option-rom/efi"', "kind = 7", "", "must be a text"),
    ('kind = { dos = "dos-program"', 'kind = { dso = "dos-program"', "", "did you mean dos?"),
    ('kind = "option-rom/efi"', "kind = {}", "", "is empty"),
    ('has = { raid = "BITTERN RD", pass = "BITTERN PT" }', "has = {}", "", "is empty"),
    ('has = { raid = "BITTERN RD", pass = "BITTERN PT" }', 'has = { raid = "B {version}" }', "", "without placeholders"),
    ('has = "QUAYHAND"', 'has = "QUAYHÄND"', "", "only ASCII"),
    ("size = [65_536, 2_097_152]", "size = [2_097_152, 65_536]", "", "least above its most"),
    ("size = [65_536, 2_097_152]", "size = [1, 2, 3]", "", "one number, or"),
    ("size = [65_536, 2_097_152]", 'size = [1, "2"]', "", "whole number"),
    ('version = "CVFW {version}"', 'version = "CVFW"', "", "{version} must stand in it"),
    ('version = "CVFW {version}"', 'version = "{version}"', "", "needs text"),
    ('with = { dos = ["QHXTEND.BIN"] }', 'with = { dos = "QHXTEND.BIN" }', "", "list of file names"),
    ('with = { dos = ["QHXTEND.BIN"] }', 'with = { dos = ["a/b"] }', "", "without a folder"),
    ('with = { dos = ["QHXTEND.BIN"] }', 'with = ["A", "a"]', "", "one name twice"),
    ('with = { dos = ["QHXTEND.BIN"] }', f"with = {['x'] * (MAX_LIST + 1)}", "", "more than"),
    ("size = 320", "size = 320.0", "", "whole number"),
    ("magic = { at = 0, hex", "magik = { at = 0, hex", "[layout.bittern]", "magic is missing"),
    ('hex = "C0 12 08 A5"', 'hex = "C0 12 8"', "", "pairs of hex digits"),
    ('hex = "C0 12 08 A5"', 'hex = "FF FF"', "", "nothing but 00 or FF"),
    ('as = "sum8"', 'as = "sum9"', "", "must be sum8"),
    ("total = 0 }", "total = 256 }", "", "between 0 and 255"),
    (", total = 0 }", " }", "sum = {", "needs either total"),
    ("total = 0 }", "total = 0, at = 1 }", "", "needs either total"),
    ('as = "u64be"', 'as = "u64"', "", "must be u8"),
    ('as = "u64be"', 'as = "u64be", length = 4', "", "u64be is 8 long"),
    ('as = "ascii", length = 16', 'as = "ascii"', "", "length is missing"),
    ('is = "mode.vendor"', 'is = "mode.vender"', "", "a plain name"),
    ('empty = ["00", "FF"]', 'empty = ["0"]', "", "two hex digits"),
    ("field = [", "field = [ 1,", "", "must be a table"),
    ('certificate_sha256 = "', 'certificate_sha256 = "0', "", "64 hex digits"),
    ('mix = "stop"', 'mix = "halt"', "", "must be stop or caution"),
    ('legacy-boot-rom = { version = "8.41.0" }', 'legacy-boot-rom = "8.41.0"', "", "must be a table"),
    ('from = "3.10", to', 'form = "3.10", to', "", "did you mean from?"),
    ('version = "12.02.0" ', "", "[[withdrawn]]", "needs version or sha256"),
    ('bench = "dos"', 'bench = "windows"', "", "must be dos, uefi, linux or clip"),
    ('needs = ["firmware", "eeprom-image", "writer"]\n', "", "[[route]]", "needs is missing"),
    ("unchecked = [] ", "unchecked = [7] ", "", "text in quotes"),
    ('id = "raid-to-pass-dos"', 'id = "raid to pass"', "", "letters, digits"),
    ('then = "restart" },\n  { name = "list-bare"', 'then = "reboot" },\n  { name = "list-bare"', '"reboot"', "must be restart"),
    ('writes = ["flash"] }', 'writs = ["flash"] }', "", "did you mean writes?"),
    ('name = "load",', 'name = "lo ad",', "", "1 to 32"),
    ('say = "Compare."', 'say = "Cömpare.", typ = "x"', "", "did you mean type?"),
    ('type = "{writer} scour {slot}"', 'type = "{writer} scöur {slot}"', "", "printable ASCII"),
    ('type = "{writer} load {slot} {firmware}", ', "", 'name = "load",', "stands without type"),
    ('makes = "NEWCFG.BIN", ', "", 'name = "lay-check"', "makes none"),
    ("expects = { blank = false, holds = [\"sas\"] }", "expects = {}", "", "expects nothing"),
    ("expects = { blank = false, holds = [\"sas\"] }", "expects = 1", "", "must be a table"),
    ('why = "drops its link after a warm restart"\n', "", "[[withdrawn]]", "why is missing"),
    ('# stepping = { least = "9.00.0" }', "stepping = { most = 1 }", "", "least is missing"),
]


@pytest.mark.parametrize(("old", "new", "at", "words"), FAULTS, ids=[str(n) for n in range(len(FAULTS))])
def test_each_fault_is_told_at_its_line(tmp_path: Path, old: str, new: str, at: str, words: str) -> None:
    text = planted((old, new))
    found = [one for one in told(load_text(tmp_path, text)) if words in one[1]]
    assert [line for line, _ in found] == [line_of(text, at or new)]


def test_all_errors_are_told_not_just_the_first(tmp_path: Path) -> None:
    text = planted(
        ("controllers = 1", "controllers = 0"),
        ('kind = "option-rom/efi"', 'kind = "efi"'),
        ('destroys = ["flash", "sas", "serial"]', 'destroys = ["flash", "sas", "hull"]'),
        ('mix = "stop"', "mix = 1"),
        ('after = "scour"', 'after = "scower"'),
        ("\n[layout.bittern]", "\n[layouts.bittern]"),
    )
    lines = {line for line, _ in told(load_text(tmp_path, text))}
    for part in ("controllers = 0", 'kind = "efi"', '"hull"', "mix = 1", '"scower"', "[layouts.bittern]"):
        assert line_of(text, part) in lines


def test_what_only_follows_from_an_error_is_not_told(tmp_path: Path) -> None:
    text = planted(('kind = { dos = "dos-program"', 'kind = { dos = "dos-progam"'))
    assert len(told(load_text(tmp_path, text))) == 1
    text = planted(("size = 320", "size = 0"))
    assert len(told(load_text(tmp_path, text))) == 1


def test_a_family_with_errors_still_shows(tmp_path: Path) -> None:
    loaded = load_text(tmp_path, planted(('as = "sum8"', 'as = "sum9"')))
    assert loaded.family is not None
    assert loaded.family.problems == loaded.problems
    assert loaded.family.layouts["bittern"].sum is None
    assert not loaded.family.settled


@pytest.mark.parametrize("value", ['"a b"', "7", '""', f'"{"x" * 65}"'])
def test_without_an_id_there_is_no_family(tmp_path: Path, value: str) -> None:
    loaded = load_text(tmp_path, planted(('id = "corvane-bittern"', f"id = {value}")))
    assert loaded.family is None
    assert len(loaded.problems) == 1


@pytest.mark.parametrize(
    ("text", "line", "words", "name"),
    [
        ('id = "x"\ntitle = "a\n[card]\n', 2, "is not TOML", None),
        ('id = "x"\n[card]\nflash = \n', 3, "is not TOML", "x"),
        ('id = "x"\n[card]\nflash = [1,\n2', 4, "ends too early", "x"),
        ('id = "x"\nid = "y"\n', 2, "is not TOML", None),
        ('id = "a b"\n[card', 2, "is not TOML", None),
        ('id = "x"\n[card]\nflash = 1' + "0" * 5000, 3, "goes over a bound", "x"),
        ('id = "x"\nz = [\n[[[[[[[[[[[[1]]]]]]]]]]]]\n]\n[card]', 3, "deep", None),
        (b'id = "x"\n\ntitle = "\xff"', 3, "UTF-8", None),
        (b"#" * (MAX_FILE_BYTES + 1), 1, "larger than", None),
        ("", 1, "is missing", None),
        (b"\xef\xbb\xbf\xff", 1, "UTF-8", None),
        ("a" + ".a" * 200_000 + " = 1", 1, "parts", None),
    ],
)
def test_what_is_no_toml(tmp_path: Path, text: str | bytes, line: int, words: str, name: str | None) -> None:
    loaded = load_text(tmp_path, text)
    assert loaded.problems[0].line == line
    assert words in loaded.problems[0].text
    assert (loaded.family.id if loaded.family else None) == name
    assert loaded.sha256 == hashlib.sha256(text if isinstance(text, bytes) else text.encode()).hexdigest()


def test_what_cannot_be_opened_is_a_problem(tmp_path: Path) -> None:
    for path in (tmp_path / "gone.toml", tmp_path):
        loaded = load_file(path)
        assert (loaded.family, loaded.sha256) == (None, "")
        assert "cannot be read" in loaded.problems[0].text


def test_problems_have_a_bound(tmp_path: Path) -> None:
    text = TEXT + "".join(f"\n[[withdrawn]]\nrole{n} = 1" for n in range(MAX_PROBLEMS // 2))
    problems = told(load_text(tmp_path, text))
    assert len(problems) == MAX_PROBLEMS + 1
    assert any("more problems follow" in words for _, words in problems)


def test_too_many_of_a_kind(tmp_path: Path) -> None:
    text = TEXT + "".join(f'\n[state.s{n}]\nids = ["F234:1000"]\nafter = "scour"' for n in range(MAX_LIST))
    assert any("state has more than" in words for _, words in told(load_text(tmp_path, text)))
    text = planted(('ids = ["F234:0C80"]', f"ids = [{','.join(['1'] * (MAX_LIST + 1))}]"))
    assert any("more than" in words for _, words in told(load_text(tmp_path, text)))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=100, deadline=None)
@given(st.data())
def test_no_content_is_an_exception(tmp_path: Path, data: st.DataObject) -> None:
    """Any line dropped, doubled, or replaced by another: problems, perhaps, but never an exception."""
    lines = TEXT.split("\n")
    at = data.draw(st.integers(0, len(lines) - 1))
    odd = ["", "x = 1", "[role]", "role = 1", "[[mode]]", "key = [1]", "route = {}"]
    other = data.draw(st.sampled_from([*lines, *odd]))
    how = data.draw(st.sampled_from(["drop", "double", "replace", "before"]))
    lines[at : at + 1] = {"drop": [], "double": [lines[at]] * 2, "replace": [other], "before": [other, lines[at]]}[how]
    loaded = load_text(tmp_path, "\n".join(lines))
    assert all(1 <= one.line <= len(lines) for one in loaded.problems)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=100, deadline=None)
@given(st.data())
def test_no_wrong_type_is_an_exception(tmp_path: Path, data: st.DataObject) -> None:
    """Any value of the example replaced by one of another type is told at its line, or is sound."""
    spots = [
        spot
        for spot in re.finditer(r'(?<== )(?:"[^"\n]*"|true|false|\d[\d_x:.-]*)(?=[ ,}\n])', TEXT)
        if "#" not in TEXT[TEXT.rfind("\n", 0, spot.start()) + 1 : spot.start()]
    ]
    spot = data.draw(st.sampled_from(spots))
    odd = ['"x"', "-1", "1.5", "true", "[]", "{}", '["x"]', "[[1]]", "{ a = 1 }", "2026-03-01"]
    value = data.draw(st.sampled_from(odd))
    assume(not (value.startswith("2026") and spot.group().startswith("2026")))
    text = TEXT[: spot.start()] + value + TEXT[spot.end() :]
    loaded = load_text(tmp_path, text)
    same_type = value.startswith('"') and spot.group().startswith('"')
    if not same_type and not (value == "true" and spot.group() in {"true", "false"}):
        line = text[: spot.start()].count("\n") + 1
        assert loaded.problems
        assert line in {one.line for one in loaded.problems}


def test_files_of_a_folder(tmp_path: Path) -> None:
    (tmp_path / "b.toml").write_text("")
    (tmp_path / "A.TOML").write_text("")
    (tmp_path / "c.txt").write_text("")
    (tmp_path / "d.toml").mkdir()
    (tmp_path / "d.toml" / "e.toml").write_text("")
    files, wrong = files_of(tmp_path)
    assert ([one.name for one in files], wrong) == (["A.TOML", "b.toml"], None)
    assert "no such folder" in str(files_of(tmp_path / "gone")[1])
    assert "cannot be looked into" in str(files_of(tmp_path / "c.txt")[1])


def test_files_of_a_folder_have_a_bound(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("catalogue.families.load.MAX_FILES", 2)
    assert MAX_FILES > 2
    for name in "abc":
        (tmp_path / f"{name}.toml").write_text("")
    files, wrong = files_of(tmp_path)
    assert [one.name for one in files] == ["a.toml", "b.toml"]
    assert "more than 2" in str(wrong)


@pytest.mark.skipif(os.name == "nt", reason="names of any bytes are POSIX's")
def test_a_file_name_of_any_bytes(tmp_path: Path) -> None:
    path = tmp_path / os.fsdecode(b"f\xff.toml")
    path.write_text(TEXT)
    assert load_file(path).problems == ()
