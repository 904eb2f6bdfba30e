"""Version-like strings: what is taken, what is left out, where it stands. There is no published form of a version; the
cases are common practice and the traps the standards' own (addresses of RFC 791, identifiers of ITU-T X.660, dates)."""

from __future__ import annotations

import os
import random
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.formats import text_hits, versions
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
        assert claims[0].source.startswith(("text after", "dotted number"))


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
    monkeypatch.setattr(text_hits, "CHUNK", 512)
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


@pytest.mark.parametrize(
    ("text", "value", "source"),
    [
        ("Firmware Version: 12.04", "12.04", 'text after "Firmware Version:"'),
        ("Version: 7", "7", 'text after "Version:"'),
        ("BUILD: 1234", "1234", 'text after "BUILD:"'),
        ("FW Rev: 3.4b", "3.4b", 'text after "FW Rev:"'),
        ("Version No. 1.2", "1.2", 'text after "Version No."'),
        ("Heron BIOS 8.41.0", "8.41.0", 'text after "Heron BIOS"'),
        ("version 1.16.2-demo-1.16.2-1)", "1.16.2-demo-1.16.2-1", 'text after "version"'),
        ("QUAYHAND 3.10", "3.10", 'dotted number behind "QUAYHAND"'),
        ("Quayhand v3.10", "3.10", 'dotted number behind "Quayhand v"'),
        ("Q-Boot 2023.01+fix-2", "2023.01+fix-2", 'dotted number behind "Q-Boot"'),
        ("Q-Boot 2023.01 (Jan 09 2023", "2023.01", 'dotted number behind "Q-Boot"'),
        ("7.11.00", "7.11.00", "dotted number"),
    ],
)
def test_where_it_was_read(text: str, value: str, source: str):
    for encoding in ("ascii", "utf-16-le"):
        (claim,) = versions.find(BytesView(b"\0\0" + text.encode(encoding) + b"\0\0"))
        assert (claim.value, claim.source) == (value, source)
        assert claim.trust == ("named" if source.startswith("text") else "number")


@pytest.mark.parametrize(
    "text",
    [
        # Libraries and tools, as their own sources spell them in programs (zlib, OpenSSL, libpng, GCC, Clang, LLVM).
        " deflate 1.2.11 Copyright 1995-2017 Jean-loup Gailly and Mark Adler ",
        " inflate 1.2.13 Copyright 1995-2022 Mark Adler ", "zlib version 1.2.11", "OpenSSL 1.1.1k  25 Mar 2021",
        "libpng version 1.6.39", "GCC: (Debian 12.2.0-14+deb12u1) 12.2.0", "Debian clang version 14.0.6", "LLVM 14.0.6",
        "GLIBC_2.2.5", "GLIBCXX_3.4.29", "Linux version 6.1.0-18-amd64", "Python 3.11.2", "newlib 3.3.0",
        # Standards, licences, parts of a text.
        "HTTP/1.1", "UEFI v2.70", "UEFI Specification version 2.7", "SMBIOS 2.8.0", "PXE 2.1.0", "TLS version 1.2",
        "Apache License, Version 2.0", "GNU General Public License, version 2.1", '<?xml version="1.0"?>',
        "%s v2.0: ready", "%-8s 1.2.3", "x\\nGCC: (Debian 12.2.0-13) 12.2.0",
        "see section 5.1.2", "Table 3.2.1", "chapter 1.2.3", "PCI Express 3.0.1",
        # Records of version control, identifiers, addresses of the web, times, ratios.
        "$Revision: 1.12 $", "$Id: x.c,v 1.5.2 2004/01/02 $", "1.3.6.1.4", "2.5.4.3", "1.2.840", "http://x.org/1.2.3/",
        "12:30", "scale=5", "Ratio: 3.14", "version: 8c3d856d-1111-2222-3333-444455556666", "Version: 20250101",
        "Version: 5%",
    ],
)  # fmt: skip
def test_what_is_something_else_s(text: str):
    assert values(text.encode()) == []
    assert values(text.encode("utf-16-le")) == []


def test_the_most_trusted_first():
    data = b"at 1.2.3 by\0QUAYHAND 3.10\0Version: 3.10\0Firmware Version: 9.1\0"
    claims = versions.find(BytesView(data))
    assert [(one.value, one.trust) for one in claims] == [("3.10", "named"), ("9.1", "named"), ("1.2.3", "number")]
    assert claims[0].offset == data.index(b"3.10\0Firm")


@given(st.binary(max_size=200))
def test_a_quick_look_misses_nothing(noise: bytes):
    for data in (noise, noise + b"\0Version: 7\0" + noise, noise + "\0CVFW 12.04.0\0".encode("utf-16-le")):
        assert versions.may_hold(data) or not versions.find(BytesView(data))
