"""Text from files shown safely. Categories are checked against Python's own Unicode database (unicodedata)."""

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from catalogue.shapes.visible import visible


def test_plain_text_stays_as_it_is() -> None:
    assert visible("Heron boot ROM 4.1 – größer") == "Heron boot ROM 4.1 – größer"


def test_what_moves_the_cursor_or_reorders_is_escaped() -> None:
    assert visible("a\x1b[31mb\nc\0") == "a\\x1b[31mb\\x0ac\\x00"
    assert visible("pay\u202egnp.exe") == "pay\\u202egnp.exe"
    assert visible("\U000e0001") == "\\U000e0001"


def test_a_byte_that_is_no_utf8_shows_as_that_byte() -> None:
    assert visible(b"caf\xe9".decode("utf-8", "surrogateescape")) == "caf\\xe9"


def test_long_text_is_cut_and_said() -> None:
    assert visible("x" * 100, most=10) == "xxxxxxxxxx … (100 characters)"


@given(st.text(st.characters(codec=None)))
def test_nothing_hidden_ever_comes_through(text: str) -> None:
    for character in visible(text, most=10_000):
        assert unicodedata.category(character) not in {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
