"""Edits keep comments, order and spelling: only the lines meant change, and the file then says what was meant.

What a changed file says is judged by tomllib (the standard library's TOML 1.0 reader), the lines by difflib.
"""

from __future__ import annotations

import copy
import difflib
import time
import tomllib
from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.errors import BadCall
from catalogue.families.toml_edit import MOST_BYTES, Drop, Put, edited, header_renamed, rows_added, rows_changed
from tests.families.sample import TEXT

HAND = """# A file written by hand, with habits of its own.
schema    =   1        # aligned
id = 'by-hand'
 title = "Two  blanks"


[ card ]
    flash = 8_388_608   # bytes, read off the chip
# between
controllers = 0x1
[mode . "raid"]
ids = [ "F234:0C80" ,   # one
        # and a remark inside
        "F234:0C82", ]
[role.firmware]
size=[65_536,2_097_152]  # no blanks
has = { raid = "A", pass = 'B' }
[[release]]   # first
name = "twelve"
date = 2026-02-10
[[release]]
# second has its remark above
name = "eleven"
date = 2025-06-17
"""
LEAVES = st.integers(-5, 1 << 40) | st.booleans() | st.text(st.characters(codec="utf-8"), max_size=30) | st.dates()
VALUES = st.recursive(LEAVES, lambda one: st.lists(one, max_size=3)
                      | st.dictionaries(st.text("abcdef-", min_size=1, max_size=6), one, max_size=3),
                      max_leaves=6)  # fmt: skip


def places(value: object, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    below = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, one in below:
        yield (*path, key)
        yield from places(one, (*path, key))


def leaves(text: str) -> list[tuple[str | int, ...]]:
    told = tomllib.loads(text)

    def at(path: tuple[str | int, ...]) -> object:
        here: object = told
        for part in path:
            here = here[part]  # type: ignore[index]
        return here

    return [one for one in places(told) if not isinstance(at(one), dict | list)]


def meant(text: str, path: tuple[str | int, ...], value: object) -> dict[str, object]:
    told = copy.deepcopy(tomllib.loads(text))
    here: object = told
    for part in path[:-1]:
        here = here[part]  # type: ignore[index]
    here[path[-1]] = value  # type: ignore[index]
    return told


def lines_changed(before: str, after: str) -> tuple[list[str], list[str]]:
    found = [one for one in difflib.ndiff(before.splitlines(), after.splitlines()) if one[0] in "+-"]
    return [one[2:] for one in found if one[0] == "-"], [one[2:] for one in found if one[0] == "+"]


@pytest.mark.parametrize(
    "text", [HAND, TEXT, HAND.replace("\n", "\r\n"), "\ufeff" + HAND], ids=["hand", "contract", "crlf", "mark"]
)
def test_a_value_changes_its_own_line_and_nothing_else(text: str) -> None:
    plain = text.removeprefix("\ufeff")
    paths = leaves(plain)
    for path in paths[:: max(1, len(paths) // 12)]:
        made = edited(text, [Put(path, "CHANGED")])
        assert tomllib.loads(made.removeprefix("\ufeff")) == meant(plain, path, "CHANGED")
        gone, new = lines_changed(text, made)
        assert len(gone) == len(new) == 1, (path, gone, new)
        assert gone[0].partition(" # ")[2] == new[0].partition(" # ")[2], "its remark"
        assert made.startswith("\ufeff") == text.startswith("\ufeff")
        assert ("\r\n" in made) == ("\r\n" in text)
        assert made.count("\r\n") in (0, made.count("\n"))


@settings(max_examples=40, deadline=None)
@given(st.sampled_from([("card", "note"), ("role", "firmware", "note"), ("release", 1, "note"), ("note",),
                        ("mode", "new"), ("role", "firmware", "has", "x"), ("a", "b", "c")]),
       VALUES)  # fmt: skip
def test_what_is_added_is_added_alone(path: tuple[str | int, ...], value: object) -> None:
    made = edited(HAND, [Put(path, value)])
    gone, new = lines_changed(HAND, made)
    assert len(gone) <= 1, "at most the line of an inline table is written anew"
    rest = [one for one in new if one.strip()]
    assert 1 <= len(rest) <= 2
    here: object = tomllib.loads(made)
    for part in path:
        here = here[part]  # type: ignore[index]
    assert here == value


@settings(max_examples=40, deadline=None)
@given(st.text(max_size=200), VALUES)
def test_any_text_is_edited_right_or_refused(text: str, value: object) -> None:
    try:
        made = edited(text, [Put(("note",), value)])
    except BadCall:
        return
    assert tomllib.loads(made.removeprefix("\ufeff"))["note"] == value


@pytest.mark.parametrize("text", [
    "a = 1\n[b]\nc = 2\n[d.e]\n[b.x]\ny = 1\n[d]\nf = 2", "a.b.c = 1\na.b.d = 2\n", 'x = """\n# ask: a: b\n[y]\n"""\n',
    "[[a]]\n[[a.b]]\nc = 1\n[[a]]\n[a.d]\n", "a = [[1, 2], [3]]\n", '"" = 1\n"a b" = 2\n[" x "]\n', "a = {b = {c = 1}}",
], ids=["out of order", "dotted", "lines", "nested", "lists", "odd keys", "inline"])  # fmt: skip
def test_odd_files_keep_their_lines(text: str) -> None:
    told = tomllib.loads(text)
    for path in leaves(text):
        made = edited(text, [Put(path, 7)])
        assert tomllib.loads(made) == meant(text, path, 7)
        assert len(lines_changed(text, made)[0]) <= 4
    assert tomllib.loads(edited(text, [Put(("new",), 1)])) == {**told, "new": 1}


def test_a_table_more_in_a_list_of_tables() -> None:
    more = [Put(("withdrawn", 0), {"role": "x"}, header=True), Put(("release", 2), {"name": "z"}, header=True)]
    made = edited(HAND, more)
    assert lines_changed(HAND, made)[0] == []
    assert tomllib.loads(made)["withdrawn"] == [{"role": "x"}]
    assert [one["name"] for one in tomllib.loads(made)["release"]] == ["twelve", "eleven", "z"]


def test_a_new_key_stands_where_it_was_asked_for() -> None:
    made = edited(HAND, [Put(("card", "note"), "x")], at=10).splitlines()
    assert made[9] == 'note = "x"'
    elsewhere = edited(HAND, [Put(("card", "note"), "x")], at=1)
    assert tomllib.loads(elsewhere)["card"]["note"] == "x"


def test_what_is_taken_out_leaves_its_neighbours() -> None:
    made = edited('a = [\n  "x",\n  "y",  # why\n]\nb = ["x", "y"]\n', [Drop(("a", 0))])
    assert made == 'a = [\n  "y",  # why\n]\nb = ["x", "y"]\n'
    assert tomllib.loads(edited(made, [Drop(("b", 1))])) == {"a": ["y"], "b": ["x"]}


@pytest.mark.parametrize("path", [("card", "flash", "x"), ("release", 7, "name"), ("no", 3, "x"), ("id", 0)])
def test_a_path_that_leads_nowhere_is_refused(path: tuple[str | int, ...]) -> None:
    with pytest.raises(BadCall):
        edited(HAND, [Put(path, 1)])


def test_a_table_gets_another_name() -> None:
    made = header_renamed(HAND, "mode", "raid", "first")
    assert lines_changed(HAND, made) == (['[mode . "raid"]'], ['[mode . "first"]'])
    for old, new in [("pass", "x"), ("raid", "raid")]:
        with pytest.raises(BadCall):
            header_renamed(HAND, "mode", old, new)
    with pytest.raises(BadCall, match="by hand"):
        header_renamed("mode.a.ids = []\n", "mode", "a", "b")


def test_comments_change_nothing_that_is_said() -> None:
    assert rows_changed(HAND, lambda rows: ["# more", *rows]).startswith("# more\n")
    with pytest.raises(BadCall):
        rows_changed(HAND, lambda rows: rows[3:])


def test_lines_of_one_s_own_change_nothing_that_stands() -> None:
    assert tomllib.loads(rows_added(HAND, 10, ["note = 1"]))["card"]["note"] == 1
    for at, row in [(10, "[x]"), (10, "flash = 2"), (1, "schema = 1"), (10, "note = "), (10, '"""')]:
        with pytest.raises(BadCall):
            rows_added(HAND, at, [row])


def test_long_and_deep_files_are_refused_in_time() -> None:
    began = time.process_time()
    with pytest.raises(BadCall, match="too long"):
        edited("a = 1\n" * (MOST_BYTES // 6 + 1), [Put(("b",), 1)])
    for text in ("a = " + "[" * 400 + "]" * 400, "a." * 400 + "b = 1", "x = 1\n" + "[a" + ".a" * 300 + "]\n"):
        with pytest.raises(BadCall):
            edited(text, [Put(("b",), 1)])
    longest = "".join(f"k{n} = {n}\n" for n in range(15_000))
    assert tomllib.loads(edited(longest, [Put(("k7",), 1)]))["k7"] == 1
    assert time.process_time() - began < 20
