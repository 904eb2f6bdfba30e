"""The line index against tomllib: the same paths, and for every value the line on which it was written."""

from __future__ import annotations

import random
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.families.limits import MAX_DEPTH, MAX_ITEMS, MAX_SCALAR
from catalogue.families.toml_lines import OverBounds, Path, dotted, line_index
from tests.families.sample import TEXT
from tests.families.toml_writer import Writer

keys = st.sampled_from(["a", "b", "c-d", "_e", "1", "x.y", 'q"', "é", " ", "", "it's", "tab\t"])
values = st.recursive(
    st.none(),
    lambda below: st.one_of(st.lists(below, max_size=3), st.dictionaries(keys, below, max_size=3)),
    max_leaves=8,
)
documents = st.dictionaries(keys, values, max_size=5)


def paths_of(value: object, path: Path = ()) -> set[Path]:
    out = {path} if path else set()
    if isinstance(value, dict):
        for key, one in value.items():
            out |= paths_of(one, (*path, key))
    elif isinstance(value, list):
        for number, one in enumerate(value):
            out |= paths_of(one, (*path, number))
    return out


@settings(deadline=None)
@given(documents, st.integers(0, 2**32))
def test_index_has_the_paths_and_lines_of_any_document(data: dict[str, object], seed: int) -> None:
    writer = Writer(random.Random(seed))
    text = writer.document(data)
    index = line_index(text)
    assert set(index) == paths_of(tomllib.loads(text))
    for path, marker in writer.markers.items():
        assert index[path] == text[: text.index(marker)].count("\n") + 1


def test_index_of_the_contract_example() -> None:
    index = line_index(TEXT)
    assert set(index) == paths_of(tomllib.loads(TEXT))
    lines = TEXT.split("\n")
    assert lines[index["route", 0, "step", 4, "destroys"] - 1].lstrip().startswith('{ name = "scour"')
    assert lines[index["role", "firmware", "has", "pass"] - 1].startswith("has = ")
    assert lines[index["layout", "bittern", "field", 2, "empty", 1] - 1].lstrip().startswith("{ at = 0x40")
    assert lines[index["mode", "pass"] - 1] == "[mode.pass]"


@settings(deadline=None)
@given(st.text(st.sampled_from("ab\"'\\[]{}=.,#\n 1-T:\0é"), max_size=60))
def test_no_text_upsets_the_scan(text: str) -> None:
    index = line_index(text)
    try:
        document = tomllib.loads(text)
    except ValueError:
        return
    assert set(index) == paths_of(document)


@settings(deadline=None)
@given(st.integers(0, len(TEXT)))
def test_any_beginning_is_indexed_as_far_as_it_goes(length: int) -> None:
    whole, part = line_index(TEXT), line_index(TEXT[:length])
    assert len(part) <= len(whole)
    assert all(line <= TEXT[:length].count("\n") + 1 for line in part.values())


@pytest.mark.parametrize("text", ['"a\\x" = 1', '"a\\uD800" = 1', "\n[", "[[a]", "a = ", "a", '"a'])
def test_what_is_no_toml_ends_the_scan(text: str) -> None:
    assert set(line_index("b = 1\n" + text)) <= {("b",), ("a",)}


def test_an_explicit_header_is_the_line_of_a_table_named_before() -> None:
    index = line_index("[a.b]\nx = 1\n[a]\ny.z = 2\ny.w = 3\n[[c]]\n[[c]]\n[c.d]\n")
    assert index["a",] == 3
    assert index["a", "y"] == 4
    assert index["c",] == 6
    assert index["c", 1, "d"] == 8


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("\nx = " + "[" * 60 + "]" * 60, 2, "deep"),
        ("x = 1\n" + ".".join("a" * (MAX_DEPTH + 1)) + " = 1", 2, "parts"),
        ("\n\n[" + ".".join("a" * (MAX_DEPTH + 1)) + "]", 3, "parts"),
        ("x = [\n" + "1,\n" * MAX_ITEMS + "]", MAX_ITEMS + 1, "more than"),
        ("\nx = " + "1" * (MAX_SCALAR + 1), 2, "longer"),
        ("x = 1\ny = {" + "a = {" * 60, 2, "deep"),
    ],
)
def test_bounds(text: str, line: int, words: str) -> None:
    with pytest.raises(OverBounds, match=words) as caught:
        line_index(text)
    assert caught.value.line == line


def test_paths_as_text() -> None:
    assert dotted(("route", 0, "step", 3, "type")) == "route[0].step[3].type"
    assert dotted(("role", "a.b", 'q"\\')) == 'role."a.b"."q\\"\\\\"'
