"""The demo's EEPROM images: sums, sizes, fields."""

from __future__ import annotations

import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sample_bundles import bittern, eeprom, heron


@pytest.mark.outside
def test_the_crc_gives_its_published_check_value():
    """CRC-16/ARC of "123456789" is BB3Dh (the customary check value; from memory)."""
    assert eeprom.crc16(b"123456789") == 0xBB3D


def test_the_templates_are_whole_and_hold_no_identity():
    one, other = bittern.EEPROM.data, heron.EEPROM.data
    assert (len(one), len(other)) == (320, 192)
    assert sum(one) & 0xFF == 0
    assert struct.unpack_from("<H", other, 190)[0] == eeprom.crc16(other[:190])
    assert one[0x40:0x48] == b"\xff" * 8
    assert one[0x60:0x70] == b"\xff" * 16
    assert other[0x20:0x28] == bytes(8)
    assert other[0x30:0x3C] == bytes(12)


@given(st.binary(max_size=64).map(lambda data: data[: len(data) // 2 * 2]))
def test_swapping_twice_gives_the_same(data):
    assert eeprom.swapped(eeprom.swapped(data)) == data
