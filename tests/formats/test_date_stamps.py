"""Dates in bytes: the forms of ISO 8601, of the C compiler and library, of PC firmware and of people; what is none.

`datetime` and `calendar` of the Python library say which days exist and how months are called.
"""

from __future__ import annotations

import calendar
import random
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.formats import date_stamps
from catalogue.formats.limits import MAX_DATES
from catalogue.formats.view import BytesView

DAYS = st.dates(date(1980, 1, 1), date(2049, 12, 31))


def found(text: str, encoding: str = "ascii") -> list[tuple[str, int | None]]:
    return [(one.value, one.offset) for one in date_stamps.find(BytesView(text.encode(encoding)))]


@given(DAYS, st.integers(0, 7), st.sampled_from(["ascii", "utf-16-le"]), st.sampled_from(["\0", " ", "\n", "("]))
def test_every_form_of_every_day(day: date, form: int, encoding: str, border: str):
    """Each day in each form is that day, at its place; what is two days by form is left as it is written."""
    short, full = calendar.month_abbr[day.month], calendar.month_name[day.month]
    written = [
        day.isoformat(),
        f"{short} {day.day:2} {day.year}",  # ISO C, 6.10.8.1
        day.strftime("%a %b %e 01:02:03 %Y").split(" ", 1)[1],  # ISO C, 7.27.3.1 (asctime), without its weekday
        f"{full} {day.day}, {day.year}",
        f"{day.day} {short} {day.year}",
        f"{day.year}/{day.month:02}/{day.day:02}",
        f"{day.month:02}/{day.day:02}/{day.year}",
        f"{day.day:02}.{day.month:02}.{day.year}",
    ][form]
    want = day.isoformat()
    if form == 6 and day.day <= 12 and day.day != day.month:
        want = written
    width = 1 if encoding == "ascii" else 2
    assert found(f"\0\0{border}{written}{border}\0", encoding) == [(want, 3 * width)]


@given(DAYS, st.sampled_from(["Build: ", "build ", "Date=", "FW_DATE ", "git-", "Released: "]))
def test_eight_digits_behind_a_word(day: date, word: str):
    compact = f"{day.year}{day.month:02}{day.day:02}"
    assert found(f"\0{word}{compact}\0") == [(day.isoformat(), 1 + len(word))]
    assert found(f"\0{compact}\0") == []
    assert found(f"\0{word}{compact}7\0") == []


@pytest.mark.parametrize(
    ("text", "source"),
    [
        ("Feb 10 2026", 'date stamp, written "Feb 10 2026"'),
        ("Build Date: 02/15/2026", 'text after "Build Date", written "02/15/2026"'),
        ("Build Date: 02/03/2026", 'text after "Build Date"; day and month may be exchanged'),
        ("released 2026-02-03", 'text after "released"'),
    ],
)
def test_sources(text: str, source: str):
    (claim,) = date_stamps.find(BytesView(text.encode()))
    assert claim.source == source


@pytest.mark.parametrize(
    "text",
    [
        "Copyright (C) 1999-2004", "1999-2004-2010", "02/30/2014", "2014-13-01", "2014-00-10", "June 2012", "Mar 2012",
        "1.2.2012.3", "2012.01.02.3", "192.168.20.14", "2050-01-01", "1979-12-31", "20260210", "a2026-02-10",
        "2026-02-10a", "12026-02-10", "1/2/3/2004", "2026-02-10-11", "Decimal 10 2026", "Version 2, June 1991",
        "12-34-2056",
    ],
)  # fmt: skip
def test_what_is_none(text: str):
    assert found(text) == []


def test_the_date_of_pc_firmware_at_its_place():
    """MM/DD/YY, eleven bytes before the end of a whole number of 64 KiB, and nowhere else."""
    body = bytes(0x2_0000 - 11) + b"06/23/99\0\xfc\0"
    (claim,) = date_stamps.find(BytesView(body))
    assert (claim.value, claim.offset) == ("1999-06-23", 0x2_0000 - 11)
    assert date_stamps.may_hold(body)
    assert date_stamps.find(BytesView(body + b"\0")) == date_stamps.find(BytesView(body[1:])) == ()


def test_noise_says_nothing():
    """Of sixteen megabytes of noise no day comes out: the shortest form has eight fixed or bounded bytes."""
    assert date_stamps.find(BytesView(random.Random(11).randbytes(16 << 20))) == ()


def test_bounds():
    days = "\0".join(date.fromordinal(date(2001, 1, 1).toordinal() + step).isoformat() for step in range(100))
    assert len(found(days)) == MAX_DATES
    assert found(days)[0] == ("2001-01-01", 0)


@given(st.binary(max_size=200))
def test_a_quick_look_misses_nothing(noise: bytes):
    for data in (noise, noise + b"\0Feb 10 2026\0" + noise, noise + "\0002026-02-10\0".encode("utf-16-le")):
        assert date_stamps.may_hold(data) or not date_stamps.find(BytesView(data))
