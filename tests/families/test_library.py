"""Families of all folders together: what settles, what spoils only itself, what stands in each other's way."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from catalogue.families.library import Library, load
from tests.families.sample import TEXT, line_of, planted

HERON = planted(('id = "corvane-bittern"', 'id = "corvane-heron"'))
RING = planted(("id = \"corvane-bittern\"\n", 'id = "corvane-bittern"\nextends = "corvane-bittern-quay"\n'))
VARIANT = """schema = 1
id = "corvane-bittern-quay"
title = "Corvane Bittern, Quay's board"
extends = "corvane-bittern"
subsystems = ["F567:0001"]
"""


def digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


class Bench:
    def __init__(self, folder: Path) -> None:
        self.shipped, self.mine, self.other = (folder / name for name in ("shipped", "mine", "other"))
        for one in (self.shipped, self.mine, self.other):
            one.mkdir()

    def load(self, **accepted: str) -> Library:
        sums = {name.replace("_", "-"): frozenset({one}) for name, one in accepted.items()}
        return load([self.mine, self.other], self.shipped, sums)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def test_a_shipped_family_is_settled(bench: Bench) -> None:
    (bench.shipped / "b.toml").write_text(TEXT)
    library = bench.load()
    assert library.problems == ()
    assert library.families["corvane-bittern"].settled


def test_another_is_settled_once_its_very_bytes_are_accepted(bench: Bench) -> None:
    (bench.mine / "b.toml").write_text(TEXT)
    assert not bench.load().families["corvane-bittern"].settled
    assert not bench.load(corvane_bittern=digest(TEXT + " ")).families["corvane-bittern"].settled
    assert not bench.load(corvane_heron=digest(TEXT)).families["corvane-bittern"].settled
    assert bench.load(corvane_bittern=digest(TEXT)).families["corvane-bittern"].settled
    (bench.mine / "b.toml").write_text(TEXT + "\n")
    edited = bench.load(corvane_bittern=digest(TEXT))
    assert (edited.families["corvane-bittern"].settled, edited.problems) == (False, ())


@pytest.mark.parametrize("where", ["shipped", "mine"])
def test_a_broken_file_is_unsettled_and_spoils_only_itself(bench: Bench, where: str) -> None:
    broken = planted(('checks = ["flash"], ', ""))
    (getattr(bench, where) / "broken.toml").write_text(broken)
    (bench.shipped / "h.toml").write_text(HERON)
    (bench.shipped / "none.toml").write_text("x = ")
    library = bench.load(corvane_bittern=digest(broken))
    assert sorted(library.families) == ["corvane-bittern", "corvane-heron"]
    family = library.families["corvane-bittern"]
    assert not family.settled
    assert [one.line for one in family.problems] == [line_of(broken, '{ name = "load", say')]
    assert library.families["corvane-heron"].settled
    assert {Path(one.file).name for one in library.problems} == {"broken.toml", "none.toml"}


def test_a_file_that_is_no_toml_still_shows_by_its_id(bench: Bench) -> None:
    (bench.shipped / "b.toml").write_text('id = "corvane-bittern"\n[card\n')
    library = bench.load()
    assert not library.families["corvane-bittern"].settled
    assert [one.line for one in library.problems] == [2]


def test_one_id_in_two_differing_files_leaves_both_unsettled_and_names_both(bench: Bench) -> None:
    (bench.shipped / "b.toml").write_text(TEXT)
    (bench.mine / "b.toml").write_text(TEXT + "# mine\n")
    library = bench.load(corvane_bittern=digest(TEXT + "# mine\n"))
    family = library.families["corvane-bittern"]
    assert not family.settled
    files = {str(bench.shipped / "b.toml"), str(bench.mine / "b.toml")}
    assert {one.file for one in family.problems} == files
    for one in family.problems:
        (other,) = files - {one.file}
        assert other in one.text
        assert one.line == 2
    assert library.problems == family.problems


def test_three_differing_files_of_which_one_has_no_values(bench: Bench) -> None:
    (bench.shipped / "b.toml").write_text(TEXT)
    (bench.mine / "b.toml").write_text(TEXT + "# mine\n")
    (bench.other / "b.toml").write_text('id = "corvane-bittern"\n[')
    library = bench.load()
    assert len([one for one in library.problems if "stands in" in one.text]) == 3


def test_an_id_that_is_none_in_two_files(bench: Bench) -> None:
    for folder, text in ((bench.mine, TEXT), (bench.other, TEXT + "#")):
        (folder / "b.toml").write_text(text.replace('id = "corvane-bittern"', 'id = "a b"'))
    library = bench.load()
    assert library.families == {}
    assert len(library.problems) == 4


def test_a_variant_without_an_id(bench: Bench) -> None:
    (bench.mine / "v.toml").write_text(VARIANT.replace('id = "corvane-bittern-quay"\n', ""))
    library = bench.load()
    assert library.families == {}
    assert "none of the folders" in library.problems[0].text


@pytest.mark.parametrize("mine", ["mine", "other"])
def test_identical_files_are_one(bench: Bench, mine: str) -> None:
    (bench.shipped / "b.toml").write_text(TEXT)
    (getattr(bench, mine) / "copy.toml").write_text(TEXT)
    library = bench.load()
    assert library.problems == ()
    assert library.families["corvane-bittern"].settled


def test_one_folder_given_twice_counts_once(bench: Bench) -> None:
    (bench.mine / "b.toml").write_text("x = ")
    library = load([bench.mine, bench.mine], bench.shipped, {})
    assert len(library.problems) == 1


def test_a_missing_folder_is_said_and_spoils_nothing(bench: Bench) -> None:
    (bench.shipped / "b.toml").write_text(TEXT)
    library = load([bench.mine / "gone"], bench.shipped, {})
    assert [(one.file, one.line) for one in library.problems] == [(str(bench.mine / "gone"), 1)]
    assert library.families["corvane-bittern"].settled


def test_a_variant_is_settled_with_what_it_stands_on(bench: Bench) -> None:
    (bench.mine / "v.toml").write_text(VARIANT)
    (bench.other / "b.toml").write_text(TEXT)
    assert not bench.load(corvane_bittern_quay=digest(VARIANT)).families["corvane-bittern-quay"].settled
    both = bench.load(corvane_bittern_quay=digest(VARIANT), corvane_bittern=digest(TEXT))
    assert both.problems == ()
    assert both.families["corvane-bittern-quay"].settled


@pytest.mark.parametrize(
    ("base", "words"),
    [
        (None, "in none of the folders"),
        ((TEXT, TEXT + "#"), "in two differing files"),
        (('id = "corvane-bittern"\n[',), "cannot be read"),
        ((RING,), "in a ring"),
    ],
)
def test_a_variant_without_a_base_it_can_stand_on(bench: Bench, base: tuple[str, ...] | None, words: str) -> None:
    (bench.mine / "v.toml").write_text(VARIANT)
    for number, text in enumerate(base or ()):
        (bench.other / f"{number}.toml").write_text(text)
    library = bench.load(corvane_bittern_quay=digest(VARIANT))
    family = library.families["corvane-bittern-quay"]
    assert not family.settled
    assert [one.line for one in family.problems] == [4]
    assert words in family.problems[0].text


def test_a_variant_of_a_broken_base_is_not_settled(bench: Bench) -> None:
    (bench.shipped / "v.toml").write_text(VARIANT)
    (bench.shipped / "b.toml").write_text(planted(("size = 320", "size = 0")))
    family = bench.load().families["corvane-bittern-quay"]
    assert not family.settled
    assert [Path(one.file).name for one in family.problems] == ["b.toml"]
