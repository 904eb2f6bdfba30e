"""The after-check (judging.md: "a stored after-check of a card compared well"), on listings like the demo's.

That a conversion shows another PCI ID and keeps the address is common practice, no published source. 16 hex digits of a
SAS address, and that all 0 is none: INCITS SPL.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.cards.after_check import Compared, compare, steps_of
from catalogue.families.load import load_file
from catalogue.families.model import Family, Route

SHIPPED = Path(__file__).parents[2] / "resources" / "families"
LISTING = """\
Quayhand 3.22

Berth ............. 1
  Shows as ........ {shows}
  Controller ...... {version}
  Board issue ..... C
  Quay address .... 5F23401000001A40
  Hull number ..... 00CB0023117
"""
BEFORE = LISTING.format(shows="F234:0C80", version="11.02.0")
AFTER = LISTING.format(shows="F234:0C81/F234:0001", version="12.04.0")
CARD = "5f234010-00001a40"


def bittern() -> tuple[Family, Route]:
    family = load_file(SHIPPED / "corvane-bittern.toml").family
    assert family is not None
    return family, family.routes[0]


def checked(before: str = BEFORE, after: str = AFTER, card: str = CARD) -> Compared:
    return compare(*bittern(), before, after, card)


def test_it_compares_well() -> None:
    found = checked()
    assert found.wrong == ()
    assert (found.card, found.mode, found.subsystem, found.revision) == (
        "5F23401000001A40", "pass", "f234:0001", "c",
    )  # fmt: skip
    assert checked(card="CB0023117").wrong == (), "by its serial number, without leading zeros"


ADAPTER = AFTER.partition("Berth")[1] + AFTER.partition("Berth")[2]
PLANTED: dict[str, Callable[[], Compared]] = {
    "the same text": lambda: checked(after=BEFORE),
    "still in the old mode": lambda: checked(after=BEFORE.replace("11.02.0", "12.04.0")),
    "in the new mode before": lambda: checked(before=AFTER.replace("Board issue", "Board  issue")),
    "half-way": lambda: checked(after=AFTER.replace("F234:0C81", "F234:0C8F")),
    "no mode shows": lambda: checked(after=AFTER.replace("Shows as ........ F234:0C81/F234:0001", "Shows nothing")),
    "another address": lambda: checked(after=AFTER.replace("1A40", "1A41"), card="CB0023117"),
    "another serial number": lambda: checked(after=AFTER.replace("23117", "23118")),
    "the address is gone": lambda: checked(after=AFTER.replace("  Quay address", "  Q")),
    "the address was not learned": lambda: checked(before=BEFORE.replace("  Quay address", "  Q"), card="CB0023117"),
    "the serial number is gone": lambda: checked(after=AFTER.replace("  Hull number", "  H")),
    "an address of all 0": lambda: checked(
        BEFORE.replace("5F23401000001A40", "0" * 16), AFTER.replace("5F23401000001A40", "0" * 16), "CB0023117"
    ),
    "an address too short": lambda: checked(
        BEFORE.replace("5F23401000001A40", "5F234010"), AFTER.replace("5F23401000001A40", "5F234010"), "CB0023117"
    ),
    "another card": lambda: checked(card="5F23401000001A48"),
    "the card twice": lambda: checked(BEFORE + ADAPTER.replace("0C81", "0C80"), AFTER + ADAPTER),
    "one adapter more": lambda: checked(after=AFTER + ADAPTER.replace("1A40", "1A48").replace("23117", "23119")),
    "no adapter at all": lambda: checked(after="Quayhand 3.22\nnothing found\n"),
    "a board that is not taken": lambda: checked(
        BEFORE.replace("issue ..... C", "issue ..... B"), AFTER.replace("issue ..... C", "issue ..... B")
    ),
    "another board": lambda: checked(after=AFTER.replace("issue ..... C", "issue ..... D")),
}


@pytest.mark.parametrize("name", PLANTED)
def test_what_does_not_compare_well(name: str) -> None:
    assert PLANTED[name]().wrong != ()


def test_a_route_that_compares_nothing_proves_nothing() -> None:
    family, route = bittern()
    blind = replace(route, steps=tuple(replace(one, compares=()) for one in route.steps))
    assert "compares no identity" in compare(family, blind, BEFORE, AFTER, CARD).wrong[0]


@given(st.text(max_size=300), st.text(max_size=300), st.text(max_size=20))
def test_no_text_is_well_by_chance_and_none_raises(before: str, after: str, card: str) -> None:
    assert checked(before, after, card).wrong != ()


@given(st.sampled_from(("", " ", "-", ":", ".")), st.booleans(), st.integers(2, 8))
def test_any_separators_and_case(sign: str, upper: bool, step: int) -> None:
    text = "5F23401000001A40"
    spelt = sign.join(text[at : at + step] for at in range(0, 16, step))
    assert checked(card=spelt.upper() if upper else spelt.lower()).wrong == ()


def test_the_digest_of_the_steps_moves_with_what_is_done_alone() -> None:
    _family, route = bittern()
    said = replace(route, steps=tuple(replace(one, say="Otherwise.") for one in route.steps), care=())
    assert steps_of(said) == steps_of(route)
    for other in (
        replace(route, steps=route.steps[:-1]),
        replace(route, target_mode="raid"),
        replace(route, steps=(replace(route.steps[0], type="{writer} other"), *route.steps[1:])),
    ):
        assert steps_of(other) != steps_of(route)
