"""Whether an identity is the card's own: values as texts and fields spell them."""

from __future__ import annotations

import pytest

from catalogue.kits.own_identity import compared, is_own, number, shown
from catalogue.shapes.card import CardFacts, Said
from catalogue.shapes.reading import Field
from tests.kits.world import bittern

FAMILY = bittern().family
ADDRESS = 0x5F234010_00000042


def card(**texts: str) -> CardFacts:
    return CardFacts("/CARD.TXT", 1, identities={name: Said(text, "/CARD.TXT", 2) for name, text in texts.items()})


def sas(value: object = ADDRESS) -> Field:
    return Field("identity.sas", value, 0x40, 8)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "text",
    ["5F23401000000042", "5f:23:40:10:00:00:00:42", "5F234010-00000042", "0x5f23401000000042", "5F23401000000042h"],
)
def test_an_address_in_any_spelling(text):
    assert is_own(FAMILY, (card(sas=text),), sas())
    assert is_own(FAMILY, (card(sas=text),), sas("5f23401000000042"))
    assert not is_own(FAMILY, (card(sas=text),), sas(ADDRESS + 1))


@pytest.mark.parametrize("text", ["", "none", "5F2340100000004", "5F234010000000421", "12 34"])
def test_what_is_no_such_address_is_not_its_own(text):
    assert not is_own(FAMILY, (card(sas=text),), sas())


def test_without_a_card_nothing_is_its_own():
    assert not is_own(FAMILY, (), sas())


def test_all_cards_must_show_it():
    one, other, silent = card(sas="5F23401000000042"), card(sas="5F234010-00000042"), card(serial="1")
    assert is_own(FAMILY, (one, other), sas())
    assert not is_own(FAMILY, (one, silent), sas())
    assert shown((one, card(sas="5F23401000000043")), "sas") is None


def test_the_span_ends_where_the_family_says():
    cards = (card(sas="5F23401000000042"),)
    span = FAMILY.identities["sas"].span
    fields = [Field("address", f"{ADDRESS + step:016X}", 0x88, 8) for step in (-1, 0, span - 1, span)]
    assert [is_own(FAMILY, cards, one) for one in fields] == [False, True, True, False]


def test_texts_without_case_separators_and_leading_zeros():
    assert compared("00CV-42 a") == compared("cv42A") == "cv42a"
    serial = Field("identity.serial", "CV42A", 0x60, 16)
    assert is_own(FAMILY, (card(serial="00cv-42a"),), serial)
    assert not is_own(FAMILY, (card(serial="00cv-42b"),), serial)
    assert not is_own(FAMILY, (card(serial="0000"),), Field("identity.serial", "0", 0x60, 16))


def test_numbers():
    assert number("zz") is None and number(7) == 7 and number("00-07") == 7
