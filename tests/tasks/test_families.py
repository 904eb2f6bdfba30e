"""Families through the tasks: listing, checking, accepting, and what an edit does to a settled one."""

from pathlib import Path

import pytest

from catalogue.errors import BadCall
from catalogue.tasks import accept_family, families, find_family, kit
from catalogue.tasks.context import Context
from catalogue.tasks.settings import shipped_families

BITTERN = shipped_families() / "corvane-bittern.toml"

VARIANT = """schema = 1
id = "saltmarsh-bittern"
title = "A Bittern under the college's own board number"
extends = "{base}"
subsystems = ["F234:5A01"]
"""


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """A folder with a family of one's own: the shipped Bittern under another name."""
    folder = tmp_path / "families"
    folder.mkdir()
    text = BITTERN.read_text(encoding="utf-8").replace('"corvane-bittern"', '"my-bittern"')
    (folder / "mine.toml").write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def context(tmp_path: Path, own: Path) -> Context:
    return Context(str(tmp_path / "catalogue.db"), (own,))


def settled(context: Context) -> dict[str, bool]:
    return {one.id: one.settled for one in families.run(context)}


def test_a_file_of_ones_own_settles_when_accepted_and_unsettles_when_edited(context: Context, own: Path) -> None:
    mine = own / "mine.toml"
    assert settled(context) == {
        "brinewell-plover": True,
        "corvane-bittern": True,
        "corvane-heron": True,
        "my-bittern": False,
    }
    assert "family-unsettled" in {one.code for one in kit.run(context, "my-bittern").findings}
    assert accept_family.run(context, mine).settled
    assert settled(context)["my-bittern"]
    assert "family-unsettled" not in {one.code for one in kit.run(context, "my-bittern").findings}
    mine.write_text(mine.read_text(encoding="utf-8") + "# a mere remark\n", encoding="utf-8")
    assert not settled(context)["my-bittern"]


def test_a_file_that_breaks_a_law_does_not_settle(context: Context, own: Path) -> None:
    broken = own / "mine.toml"
    broken.write_text(broken.read_text(encoding="utf-8").replace('checks = ["flash"], ', ""), encoding="utf-8")
    done = accept_family.run(context, broken)
    assert not done.settled
    assert done.problems
    assert all(one.file == str(broken) and one.line > 1 for one in done.problems)
    assert not settled(context)["my-bittern"]


def test_a_variant_waits_for_its_base(context: Context, own: Path) -> None:
    variant = own / "variant.toml"
    variant.write_text(VARIANT.format(base="my-bittern"), encoding="utf-8")
    waits = accept_family.run(context, variant)
    assert not waits.settled
    assert "my-bittern" in waits.problems[0].text
    assert accept_family.run(context, own / "mine.toml").settled
    assert accept_family.run(context, variant).settled


def test_a_variant_of_a_shipped_family_is_checked_against_it(context: Context, tmp_path: Path) -> None:
    variant = tmp_path / "variant.toml"
    variant.write_text(VARIANT.format(base="corvane-bittern"), encoding="utf-8")
    assert families.check(context, [variant]) == []


def test_the_same_id_in_two_differing_files_unsettles_both(context: Context, own: Path) -> None:
    text = BITTERN.read_text(encoding="utf-8")
    (own / "twin.toml").write_text(text + "# differs\n", encoding="utf-8")
    assert not settled(context)["corvane-bittern"]
    (own / "twin.toml").write_text(text, encoding="utf-8")
    assert settled(context)["corvane-bittern"]


def test_wrong_names_are_told_with_what_is_near(context: Context) -> None:
    with pytest.raises(BadCall, match="corvane-bittern"):
        kit.run(context, "corvane-biter")
    with pytest.raises(BadCall, match="raid-to-pass-dos"):
        kit.run(context, "corvane-bittern", "by-hand")
    with pytest.raises(BadCall, match="no folder"):
        families.run(Context(context.catalogue, (Path("/no/such/folder"),)))
    with pytest.raises(BadCall, match="PCI ID"):
        find_family.run(context, "a card of some kind")


def test_a_card_is_found_by_every_way_it_shows_itself(context: Context) -> None:
    """Forms of pciutils' listing and of Microsoft's PCI hardware IDs (from memory); the IDs are the demo's."""
    for text in (
        "01:00.0 RAID bus controller [0104]: Device [f234:0c80] (rev 02)",
        "PCI\\VEN_F234&DEV_0C80&SUBSYS_5A01F234&REV_02",
        "f234:0c80",
        "00: 34 f2 80 0c 07 04 10 00 02 00 04 01 10 00 00 00",
    ):
        assert ("corvane-bittern", "raid") in {(one.id, one.mode) for one in find_family.run(context, text)}, text
