"""Variants: what is taken over, what is laid over it, and where problems in either are told."""

from __future__ import annotations

from pathlib import Path

import pytest

from catalogue.families.limits import MAX_EXTENDS
from catalogue.families.load import Loaded, load_file
from catalogue.families.model import Claim
from catalogue.families.where import place
from tests.families.sample import TEXT, line_of, told

HEAD = """schema = 1
id = "quay"
title = "Quay's board"
extends = "corvane-bittern"
subsystems = ["F567:0001", "F567:0002"]
"""


def variant(folder: Path, more: str, head: str = HEAD, base: str = TEXT) -> Loaded:
    (folder / "base.toml").write_text(base)
    (folder / "quay.toml").write_text(head + more)
    return load_file(folder / "quay.toml")


def test_only_what_differs_stands_in_a_variant(tmp_path: Path) -> None:
    base = load_file(tmp_path / "base.toml").family if variant(tmp_path, "") else None
    loaded = load_file(tmp_path / "quay.toml")
    assert loaded.problems == ()
    family = loaded.family
    assert family is not None
    assert base is not None
    assert (family.id, family.title, family.extends) == ("quay", "Quay's board", "corvane-bittern")
    assert family.subsystems == ((0xF567, 1), (0xF567, 2))
    assert family.base == (base.sha256,)
    for name in ("as_of", "order", "card", "modes", "states", "listing", "identities", "roles", "layouts", "keys",
                 "releases", "withdrawn", "routes"):
        assert getattr(family, name) == getattr(base, name)


def test_values_are_laid_over(tmp_path: Path) -> None:
    loaded = variant(
        tmp_path,
        """
[card]
flash = 4_194_304
[mode.raid]
class = "010401"
[identity.serial]
find = "Board number ~ {value}"
[role.writer]
kind = { linux = "linux-program" }
version = "QH {version}"
[role.notes]
[layout.bittern]
size = 448
sum = { as = "xor8", from = 0, to = 0x10, total = 1 }
[[release]]
name = "twelve"
firmware = { version = "12.04.1" }
[[release]]
name = "thirteen"
date = 2026-02-20
[[withdrawn]]
role = "writer"
version = "3.11"
why = "hangs"
source = "bench"
[[route]]
id = "raid-to-pass-dos"
care = ["gloves on"]
""",
    )
    assert told(loaded) == []
    family = loaded.family
    assert family is not None
    assert (family.card.flash, family.card.controllers, family.card.revision is None) == (4_194_304, 1, False)
    assert (family.modes["raid"].class_code, family.modes["raid"].ids[0].device) == (0x010401, 0x0C80)
    assert family.identities["serial"].find == "Board number ~ {value}"
    assert family.identities["serial"].typed == ("strip-zeros",)
    assert family.roles["writer"].kind == {
        "dos": "dos-program", "uefi": "efi-application", "linux": "linux-program",
    }
    assert family.roles["writer"].has
    assert not family.roles["notes"].written
    layout = family.layouts["bittern"]
    assert (layout.size, len(layout.fields), layout.magic_at) == (448, 4, 0)
    assert layout.sum is not None
    assert (layout.sum.kind, layout.sum.end) == ("xor8", 0x10)
    assert [one.name for one in family.releases] == ["twelve", "thirteen"]
    assert family.releases[0].claims["firmware"] == Claim("12.04.1")
    assert family.releases[0].claims["writer"] == Claim(least="3.10", most="3.99")
    assert [one.version for one in family.withdrawn] == ["12.02.0", "3.11"]
    assert len(family.routes) == 1
    assert family.routes[0].care == ("gloves on",)
    assert len(family.routes[0].steps) == 10
    own, base = (tmp_path / name for name in ("quay.toml", "base.toml"))
    assert place(family, "card.flash") == (str(own), line_of(own.read_text(), "flash = 4"))
    assert place(family, "card.controllers") == (str(base), line_of(TEXT, "controllers = 1"))
    assert place(family, "release[1].name") == (str(own), line_of(own.read_text(), '"thirteen"'))


def test_a_column_puts_the_label_out(tmp_path: Path) -> None:
    loaded = variant(tmp_path, '[listing]\ncolumns = true\n[identity.sas]\ncolumn = "Quay"\n')
    assert told(loaded) == []
    assert loaded.family is not None
    assert (loaded.family.identities["sas"].column, loaded.family.identities["sas"].find) == ("Quay", None)


def test_both_stay_where_the_variant_gives_both(tmp_path: Path) -> None:
    loaded = variant(tmp_path, '[listing]\ncolumns = true\n[identity.sas]\ncolumn = "Quay"\nfind = "Q ~ {value}"\n')
    assert "stands beside find" in str(told(loaded))


OTHER_TYPES = ["mode = 1", "card = 1", "release = 1", "withdrawn = 1", "[mode]\nraid = 1", "[[key]]\n"]


@pytest.mark.parametrize("more", OTHER_TYPES)
def test_what_is_of_another_type_replaces_and_is_told(tmp_path: Path, more: str) -> None:
    assert variant(tmp_path, more).problems


def test_problems_stand_in_the_file_that_has_them(tmp_path: Path) -> None:
    base = TEXT.replace("controllers = 1", "controllers = 0")
    loaded = variant(tmp_path, "[layout.bittern]\nsize = 0x60\n", base=base)
    assert [(Path(one.file).name, one.line) for one in loaded.problems] == [
        ("base.toml", line_of(TEXT, "controllers = 1")),
        ("base.toml", line_of(TEXT, "sum = {")),
        ("base.toml", line_of(TEXT, "{ at = 0x60")),
    ]


def test_a_variant_names_its_subsystems(tmp_path: Path) -> None:
    loaded = variant(tmp_path, "", HEAD.replace('subsystems = ["F567:0001", "F567:0002"]\n', ""))
    assert told(loaded) == [(4, 'extends makes this a variant; a variant names its subsystems = ["SSSS:ssss"]')]


def test_what_is_not_taken_over_must_stand_there(tmp_path: Path) -> None:
    found = told(variant(tmp_path, "", HEAD.replace("title = \"Quay's board\"\n", "")))
    assert [text for _, text in found] == ["title is missing"]


@pytest.mark.parametrize("value", ["7", '"a b"', '""'])
def test_an_extends_that_is_no_id(tmp_path: Path, value: str) -> None:
    assert 4 in {line for line, _ in told(variant(tmp_path, "", HEAD.replace('"corvane-bittern"', value)))}


def test_the_base_may_lie_in_another_folder(tmp_path: Path) -> None:
    (tmp_path / "base").mkdir()
    (tmp_path / "base" / "b.toml").write_text(TEXT)
    (tmp_path / "quay.toml").write_text(HEAD)
    assert "none of the folders" in str(load_file(tmp_path / "quay.toml").problems)
    assert load_file(tmp_path / "quay.toml", [tmp_path / "base"]).problems == ()


def test_a_long_chain(tmp_path: Path) -> None:
    (tmp_path / "base.toml").write_text(TEXT)
    for number in range(MAX_EXTENDS + 1):
        below = f"v{number - 1}" if number else "corvane-bittern"
        text = HEAD.replace('id = "quay"', f'id = "v{number}"').replace('"corvane-bittern"', f'"{below}"')
        (tmp_path / f"v{number}.toml").write_text(text)
    last = load_file(tmp_path / f"v{MAX_EXTENDS - 1}.toml")
    assert last.problems == ()
    assert last.family is not None
    assert len(last.family.base) == MAX_EXTENDS
    assert "more than" in str(load_file(tmp_path / f"v{MAX_EXTENDS}.toml").problems)


def test_a_changed_base_is_read_again(tmp_path: Path) -> None:
    assert variant(tmp_path, "").problems == ()
    assert variant(tmp_path, "", base=TEXT.replace("size = 320", "size = 0")).problems
