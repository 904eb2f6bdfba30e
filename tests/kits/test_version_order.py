"""Version orders: total, with interchangeable forms, and as their standards have them."""

from __future__ import annotations

import itertools
import shutil
import subprocess
from datetime import date

import pytest
import semver
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.kits.version_order import ORDERS, order

LISTED = ("9.0", "11.00.0", "12.02.0", "12.04.0")
ANY = st.one_of(
    st.text(max_size=12),
    st.from_regex(r"[0-9]{1,3}(\.[0-9]{1,3}){0,3}[a-z]?", fullmatch=True),
    st.from_regex(r"([0-9]:)?[0-9][0-9a-z.+~]{0,6}(-[0-9a-z+.~]{1,4})?", fullmatch=True),
    st.from_regex(r"[0-9]\.[0-9]\.[0-9](-(alpha|beta|[0-9])(\.[0-9])?)?", fullmatch=True),
    st.dates().map(lambda day: day.isoformat()),
    st.sampled_from(LISTED),
)


def made(name: str):
    return order(name, LISTED)


@pytest.mark.parametrize("name", ORDERS)
@given(one=ANY, other=ANY, third=ANY)
def test_total_orders_with_interchangeable_forms(name, one, other, third):
    """Every order is total and transitive, and two forms with one key are interchangeable everywhere."""
    by = made(name)
    assert by.compare(one, one) == 0
    assert by.compare(one, other) == -by.compare(other, one)
    for a, b, c in itertools.permutations((one, other, third)):
        if by.compare(a, b) <= 0 and by.compare(b, c) <= 0:
            assert by.compare(a, c) <= 0
    if by.same(one, other):
        assert by.compare(one, third) == by.compare(other, third)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("016.0", "16"),
        ("21.00.05", "21.0.5"),
        ("V12.04", "12.4"),
        ("12_04-0", "12.04.0"),
        ("6.00B", "6.00b"),
        ("", "0"),
    ],
)
def test_numeric_forms_of_one_version(one, other):
    """family-file.md: `numeric` (016.0 = 16); judging.md: 21.00.05 / 21.0.5."""
    assert made("numeric").same(one, other)


@pytest.mark.parametrize("name", ["numeric", "debian", "semver", "date", "listed"])
def test_no_length_of_digits_is_too_long(name):
    long = "1" + "0" * 9_000
    assert made(name).compare(long, long + "1") < 0


def rising(name: str, versions: list[str]) -> None:
    by = made(name)
    for one, other in itertools.combinations(versions, 2):
        assert by.compare(one, other) < 0, (one, other)


def test_numeric_order():
    rising("numeric", ["", "6", "6.00b", "6.0.1", "6.1", "6.10", "10", "99.99"])


def test_semver_order_as_its_document_has_it():
    """semver.org 2.0.0, clause 11: precedence examples 2 and 4, and clause 10 on build metadata."""
    rising("semver", ["1.0.0", "2.0.0", "2.1.0", "2.1.1"])
    rising(
        "semver",
        [
            "1.0.0-alpha", "1.0.0-alpha.1", "1.0.0-alpha.beta", "1.0.0-beta", "1.0.0-beta.2", "1.0.0-beta.11",
            "1.0.0-rc.1", "1.0.0",
        ],
    )  # fmt: skip
    assert made("semver").same("1.0.0+20130313144700", "1.0.0+exp.sha.5114f85")


@pytest.mark.parametrize(
    "text", ["1", "1.2", "01.1.1", "1.01.1", "1.2.3-01", "1.2.3-", "1.2.3+", "v1.2.3", "1.2.3.4", "1.2-SNAPSHOT"]
)
def test_what_is_no_semver_is_not_spoken_of_and_stands_below(text):
    by = made("semver")
    assert not by.speaks_of(text)
    assert by.compare(text, "0.0.0-0") < 0


@pytest.mark.parametrize(
    "text", ["0.0.4", "1.0.0-0A.is.legal", "2.0.0+build.1848", "1.0.0-alpha-a.b-c", "1.1.2-prerelease+meta"]
)
def test_what_is_semver_is_spoken_of(text):
    assert made("semver").speaks_of(text)


def test_date_order():
    rising("date", ["junk", "2025", "2025-03", "2025.03.01", "2-Mar-2025", "20250303", "2025_12_31", "2026-02-10"])
    assert made("date").same("2026-2-1", "20260201")
    assert made("date").same("01-FEBRUARY-2026", "2026.02.01")


@pytest.mark.parametrize("text", ["02-10-2026", "2026-13-01", "2026-01-32", "10-Foo-2026", "0000", "12.04.0", ""])
def test_what_is_no_date_is_not_spoken_of(text):
    assert not made("date").speaks_of(text)


def test_listed_order_knows_only_what_is_listed():
    rising("listed", ["99.9", "9", "11.0", "12.02.0", "12.4"])
    assert made("listed").speaks_of("012.04.0")
    assert not made("listed").speaks_of("99.9")


def test_an_unknown_order_is_numeric():
    assert order("alphabetical").same("1.0", "1")


NUMBER = st.integers(0, 30)
STAGE = r"(0|[1-9][0-9]?|[a-zA-Z-][0-9a-zA-Z-]{0,3})(\.(0|[1-9][0-9]?|[a-zA-Z-]{1,3})){0,2}"
BEFORE = st.from_regex(STAGE, fullmatch=True)
SEMVER = st.builds(
    lambda parts, before, build: ".".join(map(str, parts)) + before + build,
    st.tuples(NUMBER, NUMBER, NUMBER),
    st.one_of(st.just(""), BEFORE.map(lambda before: f"-{before}")),
    st.one_of(st.just(""), st.from_regex(r"\+[0-9a-zA-Z-]{1,4}", fullmatch=True)),
)


@pytest.mark.outside
@given(one=SEMVER, other=SEMVER)
def test_semver_order_against_the_semver_library(one, other):
    """PyPI `semver`: every order it knows, and what it reads at all."""
    assert made("semver").compare(one, other) == semver.Version.parse(one).compare(other)
    assert made("semver").speaks_of(one)


@pytest.mark.outside
@given(text=st.one_of(ANY, SEMVER))
def test_what_the_semver_library_reads_is_spoken_of(text):
    assert made("semver").speaks_of(text) == semver.Version.is_valid(text)


@given(one=st.lists(NUMBER, max_size=5), other=st.lists(NUMBER, max_size=5), widths=st.tuples(*[st.integers(1, 4)] * 5))
def test_numeric_order_is_that_of_tuples(one, other, widths):
    """Python's own tuples, zeros at the end left out (016.0 = 16)."""
    text = ".".join(f"{number:0{width}}" for number, width in zip(one, widths, strict=False))
    mine, theirs = (tuple(itertools.dropwhile(lambda n: n == 0, reversed(each)))[::-1] for each in (one, other))
    assert made("numeric").compare(text, ".".join(map(str, other))) == (mine > theirs) - (mine < theirs)


DAY = st.dates(date(1000, 1, 1))


@given(one=DAY, other=DAY, form=st.sampled_from(["%Y-%m-%d", "%Y.%m.%d", "%d-%b-%Y"]))
def test_date_order_is_the_calendar_s(one, other, form):
    """Python's `datetime.date`."""
    assert made("date").compare(one.strftime(form), other.isoformat()) == (one > other) - (one < other)


PART = st.from_regex(r"[0-9][0-9a-zA-Z.+~]{0,8}", fullmatch=True)
REVISION = st.from_regex(r"[0-9a-zA-Z.+~]{1,6}", fullmatch=True)
EPOCH = st.integers(0, 3).map(lambda epoch: f"{epoch}:")
DEBIAN = st.builds(
    lambda epoch, upstream, revision: f"{epoch}{upstream}{revision}",
    st.one_of(st.just(""), EPOCH),
    PART,
    st.one_of(st.just(""), REVISION.map(lambda revision: f"-{revision}")),
)


@pytest.mark.outside
@pytest.mark.skipif(shutil.which("dpkg") is None, reason="dpkg is not installed")
@settings(max_examples=150, deadline=None)
@given(one=DEBIAN, other=DEBIAN)
def test_debian_order_against_dpkg(one, other):
    """Outside source: `dpkg --compare-versions` (Debian Policy 5.6.12)."""
    for word, holds in (
        ("lt", made("debian").compare(one, other) < 0),
        ("eq", made("debian").compare(one, other) == 0),
    ):
        code = subprocess.run(["dpkg", "--compare-versions", one, word, other], check=False).returncode
        assert (code == 0) == holds, (one, word, other)


@pytest.mark.outside
@pytest.mark.skipif(shutil.which("dpkg") is None, reason="dpkg is not installed")
def test_debian_order_against_dpkg_on_hard_pairs():
    """Outside source: `dpkg --compare-versions` again, on pairs that are easily got wrong."""
    hard = [
        "1",
        "1.",
        "1.0",
        "1.0~",
        "1.0~~",
        "1.0~a",
        "1.0a",
        "1.0-0",
        "1.0-1",
        "0:1.0",
        "1:0",
        "1.0+b1",
        "1.0.1",
        "1.a",
        "1.~",
    ]
    for one, other in itertools.permutations(hard, 2):
        code = subprocess.run(["dpkg", "--compare-versions", one, "lt", other], check=False, stderr=subprocess.DEVNULL)
        assert (code.returncode == 0) == (made("debian").compare(one, other) < 0), (one, other)
