"""Answers: each form, what is refused, what stays open, and that a person's own comments stay."""

from __future__ import annotations

import tomllib
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.errors import BadCall
from catalogue.families import drafting
from catalogue.families.drafting import Piece, RomImage, Text
from catalogue.families.drafting.answers import answer
from catalogue.families.drafting.questions import asked, kind_of
from catalogue.formats.eeprom_sums import SUMS
from catalogue.shapes.reading import VersionClaim

ROM = Piece("a" * 64, "A.ROM", ("A.ROM",), ("one.zip",), "option-rom/legacy-x86", bytes(64),
            (RomImage("option-rom/legacy-x86", 0xF234, 0x0C81, 0x010700, 28, 37),))  # fmt: skip
OTHER = Piece("b" * 64, "B.ROM", ("B.ROM",), ("one.zip",), "option-rom/legacy-x86", bytes(65),
              (RomImage("option-rom/legacy-x86", 0xF234, 0x0C80, None, 28, 37),))  # fmt: skip
TOOL = Piece("1" * 64, "TOOL.EXE", ("t/TOOL.EXE",), ("one.zip",), "dos-program", b"MZ QUAYHAND 1.2.3\0")
FIRM = tuple(Piece(n * 64, f"{n}.FW", (f"{n}.FW",), ("one.zip",), "opaque", b"BITTERN " + mode + b"\0" + bytes(20_000),
                   versions=(VersionClaim("7.1.0", "text", 0),))
             for n, mode in (("c", b"RD"), ("d", b"PT")))  # fmt: skip
LISTING = Text("CARD.TXT", ("Berth .... 3", "  Shows as .... F234:0C80", "  Quay address .... 5F23401000001A40"),
               saved=True)  # fmt: skip
LOG = Text("LOG.TXT", ("C:\\>TOOL look > CARD.TXT", "C:\\>TOOL load 3 c.FW"), saved=True)
PIECES = (ROM, OTHER, TOOL, *FIRM, Piece("e" * 64, "X.BIN", ("t/X.BIN",), ("",), "opaque", b"\1" * 40))
TEXT = drafting.draft(drafting.Given("folder", PIECES, (LISTING, LOG), date(2026, 3, 2), SUMS, root="/f")).text


def told(key: str, value: object) -> dict[str, object]:
    made = answer(TEXT, key, value)  # type: ignore[arg-type]
    assert key not in tomllib.loads(made)["asks"]
    assert f"# answered: {key}: " in made
    assert f"# ask: {key}: " not in made
    return tomllib.loads(made)


def at(document: object, *path: str | int) -> object:
    for part in path:
        document = document[part]  # type: ignore[index]
    return document


@pytest.mark.parametrize(("key", "value", "path", "wanted"), [
    ("title", {"title": 'My "card"', "id": "mine"}, ("title",), 'My "card"'),
    ("title", {"title": "My card", "id": "mine"}, ("id",), "mine"),
    ("flash", "8_388_608", ("card", "flash"), 8_388_608),
    ("controllers", "2", ("card", "controllers"), 2),
    ("class-id-f234-0c80", "010400", ("mode", "id-f234-0c80", "class"), "010400"),
    ("state", {"name": "bare", "ids": "F234:0C8F", "after": "step-1"}, ("state", "bare", "ids"), ["F234:0C8F"]),
    ("span-sas", "8", ("identity", "sas", "span"), 8),
    ("typed-sas", "no-separators, upper", ("identity", "sas", "typed"), ["no-separators", "upper"]),
    ("revision", {"label": "Board issue", "allowed": "C, D"}, ("card", "revision"),
     {"find": "Board issue ~ {value}", "allowed": ["C", "D"]}),
    ("serial", "Shows as", ("identity", "serial", "find"), "Shows as ~ {value}"),
    ("has-firmware", {"id-f234-0c80": "BITTERN RD", "id-f234-0c81": "BITTERN PT"}, ("role", "firmware", "decide"),
     ["hash", "has"]),
    ("size-firmware", {"least": "65536", "most": "0x200000"}, ("role", "firmware", "size"), [65_536, 2_097_152]),
    ("lowest-firmware", "9.00.0", ("role", "firmware", "lowest"), "9.00.0"),
    ("version-firmware", "CVFW", ("role", "firmware", "version"), "CVFW {version}"),
    ("companions", {"dos": "X.BIN"}, ("role", "writer", "with"), {"dos": ["X.BIN"]}),
    ("date-1", "2026-02-10", ("release", 0, "date"), date(2026, 2, 10)),
    ("withdrawn", {"role": "firmware", "version": "1", "why": "w", "source": "s"}, ("withdrawn", 0, "why"), "w"),
    ("direction", {"from": "id-f234-0c80", "to": "id-f234-0c81"}, ("route", 0, "to"), "id-f234-0c81"),
    ("modes-dos", {"from": "id-f234-0c80", "to": "id-f234-0c81"}, ("route", 0, "from"), "id-f234-0c80"),
    ("care-dos", "one card; drives off", ("route", 0, "care"), ["one card", "drives off"]),
    ("unchecked-dos", "flash", ("route", 0, "unchecked"), ["flash"]),
    ("stepping", "9.0", ("route", 0, "stepping"), {"least": "9.0"}),
    ("effects-dos-step-1", {"say": "List.", "learns": "slot, sas", "text": "fine"}, ("route", 0, "step", 0, "learns"),
     ["slot", "sas"]),
    ("mode-names", {"id-f234-0c80": "raid", "id-f234-0c81": "pass"}, ("mode", "raid", "ids"), ["F234:0C80"]),
    ("no-uefi-boot-rom", "", ("schema",), 1),
    ("ran", "", ("schema",), 1),
])  # fmt: skip
def test_an_answer_stands_where_it_belongs(
    key: str, value: object, path: tuple[str | int, ...], wanted: object
) -> None:
    assert at(told(key, value), *path) == wanted


def test_every_question_of_a_draft_has_a_form_and_says_what_it_changes() -> None:
    for one in asked(TEXT):
        assert one.form
        assert one.changes
        assert one.about
        assert one.why
        assert one.how
        assert kind_of(one.key)[0].form == one.form
        assert TEXT.splitlines()[one.line - 1].strip().startswith(f"# ask: {one.key}:")


def test_what_is_not_known_is_left_out_or_stays_open() -> None:
    for one in asked(TEXT):
        if one.leaves:
            made = answer(TEXT, one.key, None)
            assert f"# answered: {one.key}: " in made
            assert "not known" in made
            before, after = tomllib.loads(TEXT), tomllib.loads(made)
            assert one.key in before.pop("asks")
            assert one.key not in after.pop("asks")
            assert before == after
        else:
            with pytest.raises(BadCall, match="stays open"):
                answer(TEXT, one.key, None)


def test_a_direction_answers_for_each_bench() -> None:
    assert "modes-dos" not in told("direction", {"from": "id-f234-0c80", "to": "id-f234-0c81"})["asks"]  # type: ignore[operator]


def test_modes_are_renamed_wherever_they_stand() -> None:
    text = answer(TEXT, "direction", {"from": "id-f234-0c80", "to": "id-f234-0c81"})
    text = answer(text, "has-firmware", {"id-f234-0c80": "BITTERN RD", "id-f234-0c81": "BITTERN PT"})
    made = answer(text, "mode-names", {"id-f234-0c80": "raid", "id-f234-0c81": "pass"})
    document = tomllib.loads(made)
    assert at(document, "route", 0, "from") == "raid"
    assert at(document, "role", "firmware", "has") == {"raid": "BITTERN RD", "pass": "BITTERN PT"}
    assert "class-raid" in at(document, "asks")  # type: ignore[operator]
    assert next(one for one in asked(made) if one.key == "class-raid").about == "which class does raid show?"


@pytest.mark.parametrize(("key", "value"), [
    ("flash", "much"), ("flash", "0"), ("flash", "9" * 16), ("flash", ""), ("flash", {"flash": "1"}), ("title", "x"),
    ("title", {"title": "a\nb"}), ("title", {"title": "x" * 1_001}), ("title", {"title": "x", "id": "a b"}),
    ("class-id-f234-0c80", "xyz"), ("span-sas", "300"), ("typed-sas", "louder"), ("date-1", "2026-02-30"),
    ("direction", {"from": "id-f234-0c80", "to": "id-f234-0c80"}), ("direction", {"from": "id-f234-0c80"}),
    ("direction", {"from": "raid", "to": "pass"}), ("has-firmware", {"id-f234-0c80": "A"}),
    ("has-firmware", {"other": "A"}), ("size-firmware", {"least": "9", "most": "1"}),
    ("effects-dos-step-1", {"learns": "slot"}), ("effects-dos-step-1", {"say": "x", "then": "wait"}),
    ("effects-dos-step-1", {"say": "x", "size": "big"}), ("mode-names", {"id-f234-0c80": "id-f234-0c81"}),
    ("mode-names", {"id-f234-0c80": "a b"}), ("state", {"name": "x y", "ids": "F234:0C8F", "after": "a"}),
    ("version-firmware", "{version} {version}"), ("lowest-firmware", "\u202e1"), ("no-such", "x"), ("companions", {}),
])  # fmt: skip
def test_what_is_no_answer_is_refused_in_a_sentence(key: str, value: object) -> None:
    with pytest.raises(BadCall) as refused:
        answer(TEXT, key, value)  # type: ignore[arg-type]
    assert str(refused.value).lstrip('"')[0].isupper() or str(refused.value)[0] == '"'
    assert str(refused.value).endswith(".")
    assert "\n" not in str(refused.value)


def test_lines_written_by_hand_stand_below_their_question() -> None:
    text = drafting.draft(drafting.Given("folder", (ROM,), (), date(2026, 3, 2), SUMS, root="/f")).text
    lines = '[listing]\nblock = "Berth ~ {slot}"\n[identity.serial]\nas = "text"\nfind = "No ~ {value}"'
    made = answer(text, "identity", lines)
    assert at(tomllib.loads(made), "listing", "block") == "Berth ~ {slot}"
    for wrong in ("[listing]\nblok = 1", "schema = 2", "asks = []", "x = ", "[listing]\n" + "#" * 20_001):
        with pytest.raises(BadCall):
            answer(text, "identity", wrong)


OWN = st.lists(
    st.sampled_from(["# my own remark", "   # ask that man", "#", "# ask:", "# ask: flash: mine"]), max_size=6
)


@settings(max_examples=30, deadline=None)
@given(OWN, st.data())
def test_a_person_s_own_comments_stay(own: list[str], data: st.DataObject) -> None:
    rows = TEXT.splitlines()
    free = [n for n, row in enumerate(rows) if row.startswith("[")]
    for remark in own:
        rows.insert(data.draw(st.sampled_from(free)), remark)
    text = "\n".join(rows) + "\n"
    made = answer(text, "lowest-firmware", "9.00.0")
    kept = made.splitlines()
    for remark in set(own):
        assert kept.count(remark) == rows.count(remark)
    gone = [row for row in rows if row not in kept]
    assert all("lowest-firmware" in row or row.startswith("#   ") for row in gone), gone


@settings(max_examples=60, deadline=None)
@given(st.sampled_from([one.key for one in asked(TEXT)]),
       st.text(max_size=40) | st.dictionaries(st.sampled_from(["title", "id", "say", "from", "to", "least", "ids"]),
                                              st.text(max_size=20), max_size=3))  # fmt: skip
def test_whatever_is_answered_the_file_can_be_read(key: str, value: object) -> None:
    try:
        made = answer(TEXT, key, value)  # type: ignore[arg-type]
    except BadCall:
        return
    document = tomllib.loads(made)
    assert key not in document["asks"]
    assert all(one in [q.key for q in asked(TEXT)] for one in document["asks"])
