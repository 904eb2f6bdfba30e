"""What a variant, or a new text, says otherwise: each value, by name, and nothing that merely moved."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.families.differences import MOST_CHANGES, between
from catalogue.families.load import load_file
from catalogue.families.node import Node
from catalogue.families.source import source_of
from tests.families.sample import TEXT, planted


def node(text: str) -> Node:
    source = source_of("f.toml", text.encode())
    assert source.root is not None
    return source.root


def told(old: str, new: str) -> list[tuple[str, str, str, int]]:
    return [(one.path, one.was, one.now, one.line) for one in between(node(old), node(new))]


def test_the_same_text_differs_in_nothing() -> None:
    assert told(TEXT, TEXT) == []
    assert told(TEXT, "# a remark\n" + TEXT) == []


@pytest.mark.parametrize(("old", "new", "path", "was", "now"), [
    ("flash = 8_388_608", "flash = 4_194_304", "card.flash", "8388608", "4194304"),
    ('allowed = ["C", "D"]', 'allowed = ["C"]', "card.revision.allowed", "C, D", "C"),
    ('mix = "stop"', 'mix = "caution"', "release[twelve].mix", "stop", "caution"),
    ('name = "scour", say = "Scour the flash."', 'name = "scour", say = "Scour it."',
     "route[raid-to-pass-dos].step[scour].say", "Scour the flash.", "Scour it."),
    ('at = 0x10, as = "u16le"', 'at = 0x11, as = "u16le"', "layout.bittern.field[mode.vendor].at", "16", "17"),
    ("as_of = 2026-03-01", "as_of = 2026-03-02", "as_of", "2026-03-01", "2026-03-02"),
])  # fmt: skip
def test_a_value_that_differs_is_named(old: str, new: str, path: str, was: str, now: str) -> None:
    text = planted((old, new))
    line = text[: text.index(new)].count("\n") + 1
    assert told(TEXT, text) == [(path, was, now, line)]


def test_what_is_put_in_between_or_taken_out_leaves_the_rest() -> None:
    more = TEXT.replace("[[release]]\n", '[[release]]\nname = "thirteen"\ndate = 2026-04-01\n[[release]]\n', 1)
    assert [one[:3] for one in told(TEXT, more)] == [
        ("release[thirteen].name", "", "thirteen"), ("release[thirteen].date", "", "2026-04-01")
    ]  # fmt: skip
    assert [one[:3] for one in told(more, TEXT)] == [
        ("release[thirteen].name", "thirteen", ""), ("release[thirteen].date", "2026-04-01", "")
    ]  # fmt: skip


def test_values_of_two_kinds_are_not_the_same() -> None:
    assert told("a = true\nb = 1", "a = 1\nb = true") == [("a", "true", "1", 1), ("b", "1", "true", 2)]


VALUE = st.integers(0, 3) | st.lists(st.integers(0, 2), max_size=2) | st.booleans()
FILES = st.dictionaries(st.sampled_from("abcd"), VALUE, max_size=4)


@given(FILES, FILES)
def test_of_two_files_exactly_what_differs_is_told(one: dict[str, object], other: dict[str, object]) -> None:
    def text(values: dict[str, object]) -> str:
        return "".join(f"{key} = {str(value).lower()}\n" for key, value in values.items())

    wrong = {key for key in {*one, *other} if key not in one or key not in other
             or (type(one[key]), one[key]) != (type(other[key]), other[key])}  # fmt: skip
    assert {path for path, *_ in told(text(one), text(other))} == wrong


def test_many_differences_are_bounded() -> None:
    long = "".join(f"k{n} = {n}\n" for n in range(MOST_CHANGES + 50))
    assert len(told("a = 1", long)) == MOST_CHANGES


def test_a_variant_says_what_it_changes(tmp_path: Path) -> None:
    (tmp_path / "base.toml").write_text(TEXT, encoding="utf-8")
    (tmp_path / "variant.toml").write_text(
        'schema = 1\nid = "mine"\ntitle = "Mine"\nas_of = 2026-03-02\nextends = "corvane-bittern"\n'
        'subsystems = ["F234:5A01"]\n[identity.serial]\nfind = "Number ~ {value}"\n[layout.bittern]\nsize = 384\n',
        encoding="utf-8",
    )
    found = load_file(tmp_path / "variant.toml")
    assert found.family is not None
    assert found.problems == ()
    assert [(one.path, one.was, one.now, one.line) for one in found.family.changes] == [
        ("as_of", "2026-03-01", "2026-03-02", 4),
        ("identity.serial.find", "Hull number ~ {value}", "Number ~ {value}", 8),
        ("layout.bittern.size", "320", "384", 10),
    ]
