"""The manual of the rules: complete, the page agrees with the tables, and each case of each rule is real.

The refused (or cautioned, or noted) case of each rule of pieces and kits is a plant, which `test_rules` plants; its
fine case is a sound kit, of `test_sound` or of here, in which the rule must stay silent. Those of the medium are in
`tests/media/test_target_rules.py`.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date

import pytest

from catalogue.cli import main
from catalogue.families.model import Key
from catalogue.kits.kit_rules import KIT_RULES
from catalogue.kits.manual import NOT_REFUSED, manual_of, source_in_words
from catalogue.kits.piece_rules import PIECE_RULES
from catalogue.kits.rule import Rule, Weight
from catalogue.media.target_rules import TARGET_RULES
from catalogue.shapes.finding import Level
from catalogue.shapes.piece import Place, Vouch
from catalogue.shapes.reading import Fault
from catalogue.tasks import rules
from tests.kits import host_plants, rules_page, test_sound
from tests.kits.host_plants import PLANTS
from tests.kits.plants import alone
from tests.kits.world import Scene, bittern, named, piece, plover, sha

KITS = (*PIECE_RULES, *KIT_RULES)
ALL = (*KITS, *TARGET_RULES)
FINE: list[tuple[str, Callable[[], Scene], Callable[[Scene], object]]] = []


def fine(code: str, make: Callable[[], Scene]) -> Callable[[Callable[[Scene], object]], Callable[[Scene], object]]:
    """Register a case that this rule must leave alone."""

    def keep(do: Callable[[Scene], object]) -> Callable[[Scene], object]:
        FINE.append((code, make, do))
        return do

    return keep


@fine("rom-odd", plover)
@fine("bytes-swapped", bittern)
@fine("never-ran", bittern)
@fine("not-checked", bittern)
@fine("family-unsettled", bittern)
@fine("stale", bittern)
def as_it_is(scene: Scene) -> None:
    """A ROM without oddities, an image as the layout has it, a settled family whose route has run and is checked."""


@fine("archive-damaged", bittern)
def a_damaged_piece_that_nothing_asks_for(scene: Scene) -> None:
    place = Place("/in/bundle.zip", ("other.bin",))
    scene.pieces["torn"] = piece("torn", places=(place,), member_faults=(Fault("crc", "Its CRC-32 differs.", 30),))


@fine("data-after-end", bittern)
def padding_behind_the_end(scene: Scene) -> None:
    host_plants.said(scene, "lb", notes=(Fault("rom-odd", "512 bytes of FFh follow.", 512),))


@fine("wrong-size", alone)
def any_size_where_the_family_gives_none(scene: Scene) -> None:
    scene.edit_role("firmware", size=None)
    scene.change("fw", size=77)


@fine("neighbour-only", bittern)
def the_same_bytes_in_two_unrelated_archives(scene: Scene) -> None:
    scene.change("writer", vouches=(Vouch("agreed", "two archives", "/in/b.zip"), Vouch("neighbour", "a list")))


@fine("neighbour-only", bittern)
def a_list_of_a_recorded_source(scene: Scene) -> None:
    scene.change("writer", vouches=(named(),))


@fine("key-withdrawn", plover)
def signed_by_another_key(scene: Scene) -> None:
    scene.edit(keys=(Key("Brinewell releases", sha("another signer"), date(2026, 5, 1)),))
    host_plants.said(scene, "writer", parts=(host_plants.signature(),))


@fine("bench-refuses", bittern)
def a_dos_program_on_a_bench_that_starts_both_ways(scene: Scene) -> None:
    host_plants.bench(scene, boots=frozenset({"legacy", "uefi"}), secure_boot=True)


@fine("bench-refuses", plover)
def an_unsigned_program_with_secure_boot_off(scene: Scene) -> None:
    host_plants.bench(scene, secure_boot=False)


CODES_FINE = {code for code, _make, _do in FINE} | {code for _make, _do, absent in test_sound.SOUND for code in absent}


@pytest.mark.parametrize(("code", "make", "do"), FINE, ids=lambda one: getattr(one, "__name__", one))
def test_the_fine_case_is_left_alone(code, make, do):
    scene = make()
    do(scene)
    kit = scene.judge()
    assert kit.verdict == "ready", [one.text for one in kit.findings if one.level is Level.STOP]
    assert code not in {one.code for one in kit.findings}


@pytest.mark.parametrize("rule", KITS, ids=lambda rule: rule.code)
def test_every_rule_has_a_real_case_of_each_kind(rule):
    assert rule.code in CODES_FINE
    assert any(plant.code == rule.code for plant in PLANTS)


@pytest.mark.parametrize("rule", ALL, ids=lambda rule: rule.code)
def test_a_manual_is_whole(rule):
    made = manual_of(rule)
    assert made.catches.endswith(".") and made.catches[0].isupper()
    assert made.fine.endswith(".") and made.looks_at.endswith(".") and made.remedy.endswith(".")
    assert all(text for _label, text in made.cases)
    labels = [label.split(",")[0] for label, _text in made.cases]
    assert any(label.startswith(("Refused", "Caution", NOT_REFUSED)) for label in labels)
    assert made.clearable == (rule.level is Weight.CLEARABLE)
    if rule.level in (Weight.CAUTION, Weight.NOTE):
        assert not any(label.startswith("Refused") for label in labels)
    else:
        assert any(label.startswith("Refused") for label in labels)
    assert not re.match(r"CP$|[TR] ", made.source)
    said = " ".join(rule.manual.split())
    assert all(part in said for part in (made.catches, made.more, made.fine, made.looks_at))


def test_the_page_agrees_with_the_tables():
    """`python -m tests.kits.rules_page` makes it anew."""
    assert rules_page.PAGE.read_text(encoding="utf-8") == rules_page.page()


def test_the_page_has_a_part_for_each_rule_and_no_more():
    text = rules_page.PAGE.read_text(encoding="utf-8")
    assert re.findall(r"^### (\S+)$", text, re.MULTILINE) == [rule.code for rule in ALL]
    assert re.findall(r"^\| \[(\S+)\]\(#\S+\) \| ([^|]+) \|", text, re.MULTILINE) == [
        (one.code, one.level.replace("; a", ", a")) for _name, some in rules.tables() for one in some
    ]


def test_the_readme_leads_to_the_page():
    readme = rules_page.PAGE.parents[2] / "README.md"
    assert f"]({rules_page.PAGE.relative_to(readme.parent).as_posix()})" in readme.read_text(encoding="utf-8")


def test_a_docstring_without_its_cases_is_no_manual():
    def lacking(_case: object) -> tuple[()]:
        """Something.

        Refused: this.
        """
        return ()

    with pytest.raises(ValueError, match="fine case"):
        manual_of(Rule("lacking", Weight.STOP, lacking, "Title", "Do it.", "CP"))


def test_sources_in_words():
    assert source_in_words("T IMG.FORMAT") == "RFC 9124, THREAT.IMG.FORMAT"
    assert source_in_words("R SEC.AUTHENTIC") == "RFC 9124, REQ.SEC.AUTHENTIC"
    assert source_in_words("ECMA-107") == "ECMA-107"


def test_the_command(capsys):
    assert main(["rules"]) == 0
    out = capsys.readouterr().out
    assert all(re.search(rf"^{rule.code}\s", out, re.MULTILINE) for rule in ALL)
    assert main(["rules", "foreign-identity", "stray"]) == 0
    out = capsys.readouterr().out
    assert "foreign-identity (stop)" in out and "stray (caution)" in out and "NAA 5h" in out
    assert all(len(line) < 80 for line in out.splitlines())
    assert main(["rules", "no-such-rule"]) == 2
    assert "no-such-rule" in capsys.readouterr().err
