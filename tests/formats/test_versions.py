"""Version-like strings: what is taken, what is left out, where it stands. There is no published form of a version; the
cases are common practice and the traps the standards' own (addresses of RFC 791, identifiers of ITU-T X.660, dates)."""

from __future__ import annotations

import os
import random
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.formats import versions
from catalogue.formats.limits import MAX_SCAN, MAX_STRINGS
from catalogue.formats.view import BytesView


def values(data: bytes) -> list[str]:
    return [one.value for one in versions.find(BytesView(data))]


@pytest.mark.parametrize(
    ("text", "want"),
    [
        ("CVFW 12.04.0", "12.04.0"),
        ("12.04.0", "12.04.0"),
        ("Version 3.10", "3.10"),
        ("v3.10", "3.10"),
        ("V3.10 loaded", "3.10"),
        ("Ver. 6.00b", "6.00b"),
        ("version=1.2", "1.2"),
        ("Rev: 2.1", "2.1"),
        ("QUAYHAND 3.10", "3.10"),
        ("21.00.05.00", "21.00.05.00"),
        ("FW version 12.0.4.0", "12.0.4.0"),
        ("v1.2.3.4", "1.2.3.4"),
        ("1.2.3.400", "1.2.3.400"),
        ("(1.18.2)", "1.18.2"),
        ("tool-1.2.3-rc2", "1.2.3-rc2"),
        ("fw_12.04.0.bin", "12.04.0"),
        ("2.0.1.", "2.0.1"),
        ("release 8.41.0, new", "8.41.0"),
        ("1.2.3.4.5", "1.2.3.4.5"),
        ("\x0712.04.0", "12.04.0"),
        ("32.12.2025", "32.12.2025"),
        ("13.13.2025", "13.13.2025"),
        ("24.12.2100", "24.12.2100"),
        ("24.12.1969", "24.12.1969"),
        ("MADE 13.2025", "13.2025"),
        ("MADE 2025.4", "2025.4"),
    ],
)
def test_what_is_taken(text: str, want: str):
    for body, width in ((text.encode(), 1), (text.encode("utf-16-le"), 2)):
        data = b"\x81\0\xfe\xff\0\0" + body + b"\0\0\x81"
        claims = versions.find(BytesView(data))
        assert [one.value for one in claims] == [want]
        at = claims[0].offset
        assert at is not None
        assert data[at : at + len(want) * width] == want.encode("ascii" if width == 1 else "utf-16-le")
        assert claims[0].source == "text"


@pytest.mark.parametrize(
    "text",
    [
        "24.12.2025",
        "31.12.1970",
        "12.31.2099",
        "MADE 12.2025",
        "MADE 1.2025",
        "MADE 2025.04",
        "MADE 2025.12",
        "2025.12.24",
        "12.2025",
        "2025.04",
        "Copyright (C) 1999-2004 Corvane.",
        "192.168.0.1",
        "255.255.255.0",
        "8.8.8.8",
        "12.0.4.0",
        "1.3.6.1.4.1.311.2",
        "3.3 V",
        "VDD 3.3V",
        "SRAM 2.5 MB",
        "about 3.5 inches",
        "pi is 3.14159",
        "version 7",
        "1234",
        "build 20250101",
        "a1.2.3",
        "1.2.3x4",
        "1.2.3_4",
        "1.2.3abc",
        "libpart.so.1.2.3",
        "x.1.2",
        "123456.1.2",
        "1..2",
        "100.00 %",
        "\xe4v1.2",
        "v1.2\xe4",
    ],
)
def test_what_is_left_out(text: str):
    assert values(text.encode("latin-1")) == []
    assert values(text.encode("utf-16-le")) == []


def test_each_value_once_and_in_order():
    data = b"CVFW 12.04.0 CVFW 9.1.1 " + "12.04.0".encode("utf-16-le") + b"\0\0 CVFW 9.1.1"
    assert [(one.value, one.offset) for one in versions.find(BytesView(data))] == [("12.04.0", 5), ("9.1.1", 18)]


@given(st.integers(0, 2000), st.booleans(), st.binary(max_size=2000), st.tuples(*[st.integers(0, 99999)] * 3))
def test_found_wherever_it_stands(at: int, wide: bool, noise: bytes, numbers: tuple[int, int, int]):
    """Planted in noise at any offset, odd ones too, it is found at that offset."""
    text = "{}.{}.{}".format(*numbers)
    if any(1970 <= one <= 2099 for one in numbers):
        text = "1.2." + text.rsplit(".", 1)[1]
        if any(1970 <= int(one) <= 2099 for one in text.split(".")):
            return
    body = text.encode("utf-16-le" if wide else "ascii")
    border = b"\0\0" if wide else b"\0"
    data = noise[:at] + border + body + border + noise[at:]
    place = len(noise[:at]) + len(border)
    assert (text, place) in [(one.value, one.offset) for one in versions.find(BytesView(data))] or text in values(
        data[:place]
    )


@pytest.mark.parametrize("wide", [False, True])
def test_across_every_chunk(wide: bool, monkeypatch: pytest.MonkeyPatch):
    """A version that lies across two chunks is found once, whole."""
    monkeypatch.setattr(versions, "_CHUNK", 512)
    body = "12.04.0".encode("utf-16-le" if wide else "ascii")
    for start in range(480, 540):
        data = bytes(start) + body + bytes(700)
        assert [(one.value, one.offset) for one in versions.find(BytesView(data))] == [("12.04.0", start)]


def test_bounds():
    many = b" ".join(b"1.2.%d" % number for number in range(1000, 3000))
    assert len(values(many)) == MAX_STRINGS
    long = bytearray(MAX_SCAN + (2 << 20))
    long[100:107] = b"12.04.1"
    long[MAX_SCAN : MAX_SCAN + 7] = b"12.04.2"
    long[-8:-1] = b"12.04.3"
    assert values(bytes(long)) == ["12.04.1", "12.04.3"]


def test_noise_says_nothing():
    assert values(random.Random(7).randbytes(4 << 20)) == []


@pytest.mark.parametrize("unit", [b"1.", b"1.1 ", b"1\0.\0001\0 \0", b"v1.2.3 ", b"9" * 50 + b".1", b".1" * 9])
def test_quick_whatever_the_bytes(unit: bytes):
    data = unit * ((4 << 20) // len(unit))
    started = time.process_time()
    values(data)
    assert time.process_time() - started < 3


def test_small_pieces_are_quick():
    """Fifty thousand small files are looked through in a few seconds even on a slow machine."""
    pieces = [os.urandom(4096) for _ in range(500)]
    started = time.process_time()
    for one in pieces:
        versions.find(BytesView(one))
    assert time.process_time() - started < 2
