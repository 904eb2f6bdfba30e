"""Notes texts: versions with the day near them, where each stands, in every encoding; invented notes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.formats.release_notes import NEAR_LINES, mentions
from catalogue.formats.view import BytesView

NOTES = """Corvane Bittern, release notes

Version 12.04.0 (10 February 2026)
  - keeps its link after a warm restart

Firmware 12.02.0
Released: 2025-11-30
  - withdrawn, see notice 14

Version 11.02.0
"""


def read(data: bytes):
    return mentions(BytesView(data))


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
@pytest.mark.parametrize("encoding", ["ascii", "utf-8-sig", "utf-16"])
def test_versions_with_the_day_near_them(encoding, ends):
    text = NOTES.replace("\n", ends)
    data = text.encode(encoding)
    found = read(data)
    assert [(one.version, one.line, one.day.value if one.day else "") for one in found] == [
        ("12.04.0", 3, "2026-02-10"),
        ("12.02.0", 6, "2025-11-30"),
        ("11.02.0", 10, "2025-11-30"),
    ]
    wide = 2 if encoding == "utf-16" else 1
    for one in found:
        raw = data[one.offset : one.offset + wide * len(one.version)]
        assert raw.decode("utf-16-le" if wide == 2 else "ascii") == one.version
        assert one.version in one.text


def test_a_day_far_away_is_no_day_of_it():
    notes = "Version 12.04.0\n" + "\n" * NEAR_LINES + "2026-02-10\n"
    assert read(notes.encode())[0].day is None
    notes = "Version 12.04.0\n" + "\n" * (NEAR_LINES - 1) + "2026-02-10\n"
    assert read(notes.encode())[0].day.value == "2026-02-10"


def test_the_day_below_counts_before_the_one_above_as_near():
    notes = "2026-01-01\nVersion 12.04.0\n2026-02-02\n"
    assert read(notes.encode())[0].day.value == "2026-02-02"


def test_a_day_that_may_be_exchanged_stays_as_it_is_written():
    assert read(b"Version 12.04.0, 03/04/2026\n")[0].day.value == "03/04/2026"


def test_what_is_no_text_mentions_nothing():
    assert read(bytes(range(256)) * 4) is None
    assert read(b"No number at all.\n") == ()


@given(st.binary(max_size=400) | st.text(max_size=200).map(lambda text: text.encode("utf-8")))
def test_any_bytes(data):
    for one in read(data) or ():
        assert 0 <= one.offset < len(data) and one.line >= 1
