"""KITS.TXT: plain, ordered, and every changed byte shows."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.media.kits_list import Damaged, KitLine, NotOurs, codes, is_ours, text

KITS = [
    KitLine("PLOV-1AB", "Brinewell Plover", "net", "1ab" + "0" * 61),
    KitLine("BITT-7F3", "Corvane Bittern", "raid-to-pass-dos", "7f3" + "0" * 61),
]


def test_the_list_names_its_folders_in_order_whatever_the_order_given():
    data = text(KITS)
    assert text(reversed(KITS)) == data
    assert codes(data) == ("BITT-7F3", "PLOV-1AB")
    assert data.isascii()
    assert all(len(line) <= 79 for line in data.decode().split("\r\n"))
    assert b"\n" not in data.replace(b"\r\n", b"")


@given(st.data())
def test_every_changed_byte_shows(data):
    whole = bytearray(text(KITS))
    at = data.draw(st.integers(0, len(whole) - 1))
    whole[at] ^= data.draw(st.integers(1, 255))
    with pytest.raises((NotOurs, Damaged)):
        codes(bytes(whole))


@given(st.integers(0, len(text(KITS)) - 1))
def test_a_cut_list_shows(length):
    with pytest.raises((NotOurs, Damaged)):
        codes(text(KITS)[:length])


@given(st.text(st.characters()), st.text(st.characters()))
def test_no_title_breaks_the_list(title, route):
    data = text([KitLine("ABCD-123", title, route, "x")])
    assert codes(data) == ("ABCD-123",)
    assert all(len(line) <= 79 for line in data.decode("ascii").split("\r\n"))


def test_somebody_elses_list_is_not_ours():
    assert not is_ours(b"my kits: drums\n")
    with pytest.raises(NotOurs):
        codes(b"my kits: drums\n")
