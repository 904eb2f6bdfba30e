"""Saved listings as a family divides and reads them (family-file.md: listing, identity, revision); invented texts."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.families import saved_text
from catalogue.families.load import load_file
from catalogue.families.model import Family, Identity, Listing
from catalogue.families.saved_text import adapters
from sample_bundles import bittern as demo

SHIPPED = Path(__file__).parents[2] / "resources" / "families"
TWO = """\
Quayhand 3.22

Berth ............. 1
  Shows as ........ F234:0C80
  Firmware ........ CVFW 11.02.0
  Board issue ..... C
  Quay address .... 5F23401000001A40
  Hull number ..... 00CB0023117
Berth ............. 2
  Shows as ........ F234:0C8F
  Quay address .... 5F23401000001A48
"""


@pytest.fixture(scope="module")
def bittern() -> Family:
    family = load_file(SHIPPED / "corvane-bittern.toml").family
    assert family is not None
    return family


def test_two_adapters(bittern):
    one, two = adapters(TWO, bittern, "CARD.TXT")
    assert (one.line, one.slot and one.slot.text, one.mode, one.state) == (3, "1", "raid", None)
    assert one.identities["sas"].text == "5F23401000001A40"
    assert one.identities["sas"].place == "CARD.TXT:7"
    assert one.identities["serial"].text == "00CB0023117"
    assert (one.revision and one.revision.text, one.versions["firmware"].text) == ("C", "11.02.0")
    assert (two.slot and two.slot.text, two.mode, two.state) == ("2", None, "bare")
    assert two.revision is None and "serial" not in two.identities


def test_the_demos_own_listing(bittern):
    (one,) = adapters(demo._CARD, bittern, "CARD.TXT")
    assert (one.mode, one.identities["sas"].text) == ("raid", "5F23401000001A40")
    assert one.revision is not None and one.revision.text == "C"


def test_without_ids_the_strings_tell_the_mode(bittern):
    (one,) = adapters("Berth . 1\n runs BITTERN PT here\n", bittern, "x")
    assert (one.mode, one.shown) == ("pass", ())
    (both,) = adapters("Berth . 1\n BITTERN PT and BITTERN RD\n", bittern, "x")
    assert both.mode is None


def test_without_a_listing_the_whole_text_is_one(bittern):
    family = replace(bittern, listing=None)
    (one,) = adapters(TWO, family, "x")
    assert one.identities["sas"].text == "5F23401000001A40"
    assert one.mode is None  # two modes show


def test_columns(bittern):
    family = replace(
        bittern,
        listing=Listing(None, True),
        identities={
            "sas": Identity("sas", "sas-address", column="Quay address"),
            "serial": Identity("serial", "text", column="Hull"),
        },
    )
    text = (
        "Berth  ID         Quay address      Hull\n"
        "-----  ---------  ----------------  -----\n"
        "1      F234:0C80  5F23401000001A40  CB 17\n"
        "2      F234:0C81                    CB18\n"
        "\nnothing of this\n"
    )
    one, two = adapters(text, family, "x")
    assert [{name: said.text for name, said in each.identities.items()} for each in (one, two)] == [
        {"sas": "5F23401000001A40", "serial": "CB 17"},
        {"serial": "CB18"},
    ]
    assert (one.mode, two.mode, one.line, two.line) == ("raid", "pass", 3, 4)


def test_bounds(bittern, monkeypatch):
    monkeypatch.setattr(saved_text, "MAX_ADAPTERS", 2)
    assert len(adapters("Berth . 1\n" * 9, bittern, "x")) == 2
    monkeypatch.setattr(saved_text, "MAX_TEXT", 5)
    assert adapters("Berth . 1\n", bittern, "x") == ()


@given(st.text(max_size=300))
def test_any_text_is_read(text):
    family = load_file(SHIPPED / "corvane-bittern.toml").family
    assert family is not None
    for listing in (family.listing, None, Listing(None, True)):
        adapters(text, replace(family, listing=listing), "x")
