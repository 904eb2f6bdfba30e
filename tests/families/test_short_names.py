"""8.3 names and values that may be typed."""
# ruff: noqa: E501  (tables are read line by line)

from __future__ import annotations

import pytest

from catalogue.families.short_names import why_not
from catalogue.families.templates import is_safe


@pytest.mark.parametrize("name", ["A", "CARD.TXT", "12345678.123", "A-B_C.X", "COM.TXT", "COM10.TXT", "NULL", "~$%'"])
def test_names_that_a_step_may_make(name: str) -> None:
    assert why_not(name) == ""


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("", "no 8.3"), (".TXT", "no 8.3"), ("A.", "no 8.3"), ("A.B.C", "no 8.3"), ("123456789", "no 8.3"),
        ("A.1234", "no 8.3"), ("A B", "no 8.3"), ("A/B", "no 8.3"), ("Ä", "no 8.3"), ("å", "no 8.3"), ("a.Txt", "A.TXT"),
        ("CON", "device"), ("AUX.TXT", "device"), ("LPT9.A", "device"), ("CONIN$", "device"), ("SHA256.SUM", "of its own"),
        ("STARTUP.NSH", "by itself"),
    ],
)
def test_names_that_it_may_not(name: str, words: str) -> None:
    assert words in why_not(name)


@pytest.mark.parametrize("value", ["0", "5F23401000000001", "03:00.0", "AB-12_3.4", "x" * 32])
def test_values_that_may_be_typed(value: str) -> None:
    assert is_safe(value)


@pytest.mark.parametrize("value", ["", " ", "a b", "-x", "/x", "a>b", "a|b", "%a%", "$a", "a;b", "`a`", '"', "é", "a\n", "x" * 33])
def test_values_that_may_not(value: str) -> None:
    assert not is_safe(value)
