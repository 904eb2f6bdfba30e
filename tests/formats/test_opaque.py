"""Bytes of no known format, and the table's last resort."""

from __future__ import annotations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from catalogue.formats import opaque
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading


def read(data: bytes) -> Reading:
    return opaque.read(BytesView(data))


@pytest.mark.parametrize("size", [1, 2, 511, (1 << 20) - 1, 1 << 20, (1 << 20) + 1, (2 << 20) + 7])
@pytest.mark.parametrize("fill", [0x00, 0xFF])
def test_blank(size: int, fill: int):
    data = bytearray([fill]) * size
    assert opaque.fill_byte(BytesView(data)) == fill
    reading = read(bytes(data))
    assert reading.value("fill") == fill
    assert reading.title == f"Blank: nothing but {fill:02X}h"
    data[-1] ^= 1
    assert opaque.fill_byte(BytesView(data)) is None


def test_what_is_not_blank(monkeypatch: pytest.MonkeyPatch):
    assert opaque.fill_byte(BytesView(b"")) is None
    assert opaque.fill_byte(BytesView(b"\xaa" * 9)) is None
    assert opaque.fill_byte(BytesView(b"\0\xff")) is None
    assert read(b"").title == "Empty file"
    monkeypatch.setattr(opaque, "MAX_FILL_BYTES", 10)
    assert opaque.fill_byte(BytesView(bytes(11))) is None


@pytest.mark.parametrize("first", [b"\xd6\xc3\xc4\0", b"BSDIFF40", b"PATCH\0\0"])
def test_binary_patches(first: bytes):
    assert read(first + bytes(40)).value("looks") == "patch"


def test_versions_in_it():
    reading = read(b"\x80CVFW 12.04.0\0")
    assert (reading.kind, [one.value for one in reading.versions]) == ("opaque", ["12.04.0"])
    assert not opaque.read(BytesView(b"\x80" * 100 + b" CVFW 12.04.0\0"), 50).versions


@given(st.binary(max_size=300))
@example(b"")
@example(b"PATCH\0")
@example(b"\0\0")
@example(b"\x80 CVFW 12.04.0")
@example(b"\x80 " + "CVFW 12.04.0".encode("utf-16-le"))
def test_the_quick_look_agrees(data: bytes):
    """What the quick look calls plain is read as nothing but its length; what says something is never plain."""
    reading = read(data)
    if opaque.is_plain(data):
        assert reading == opaque.plain(len(data))
    if reading.versions or reading.fields:
        assert not opaque.is_plain(data)
