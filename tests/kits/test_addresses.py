"""Addresses of the family's company in an EEPROM image: found wherever they lie, in both byte orders."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from catalogue.kits.addresses import LENGTH, MOST_FOUND, scan


def address(oui: int, rest: int) -> bytes:
    """NAA 5h (4 bits), company ID (24), the maker's own (36): INCITS T10 SPC, "NAA IEEE Registered"."""
    return ((0x5 << 60) | (oui << 36) | rest).to_bytes(8, "big")


@given(
    before=st.binary(max_size=64),
    after=st.binary(max_size=64),
    oui=st.integers(0, 0xFFFFFF),
    rest=st.integers(0, 2**36 - 1),
    turned=st.booleans(),
)
def test_an_address_is_found_where_it_lies(before, after, oui, rest, turned):
    raw = address(oui, rest)
    data = before + (raw[::-1] if turned else raw) + after
    found = scan(data, [oui])
    assert (len(before), raw.hex().upper()) in {(one.offset, one.value) for one in found}
    assert all(one.length == LENGTH for one in found)


@given(data=st.binary(max_size=400), oui=st.integers(0, 0xFFFFFF))
def test_only_addresses_are_found(data, oui):
    for one in scan(data, [oui]):
        value = int(str(one.value), 16)
        assert value >> 60 == 5
        assert (value >> 36) & 0xFFFFFF == oui
        raw = data[one.offset : one.offset + 8]
        assert value in (int.from_bytes(raw, "big"), int.from_bytes(raw, "little"))


def test_other_companies_and_cut_addresses_are_none():
    assert scan(address(0xF23402, 1), [0xF23401]) == ()
    assert scan(address(0xF23401, 1)[:7], [0xF23401]) == ()
    assert scan(address(0xF23401, 1)[::-1][1:], [0xF23401]) == ()
    assert scan(address(0xF23401, 1), []) == ()


def test_no_more_than_some_are_kept():
    assert len(scan(address(0xF23401, 1) * 100, [0xF23401])) == MOST_FOUND
