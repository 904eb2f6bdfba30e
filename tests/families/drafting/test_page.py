"""No text leaves its quotes and no comment its line, judged by tomllib (the standard library's TOML 1.0 reader)."""

from __future__ import annotations

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from catalogue.families.drafting.page import MOST_ASKS, Page, quote
from catalogue.shapes.visible import visible

ANY = st.text(st.characters(codec=None), max_size=60) | st.sampled_from(
    ['"\nb = 2', "\\", '\\"', "\x00\x07\x7f\x85", "\u2028# x", "'''", '"""', "\ud800", "\udc80", "\u202e[x]", "#"]
)


@given(ANY, ANY)
def test_a_text_stays_in_its_quotes_and_a_comment_on_its_line(value: str, source: str) -> None:
    page, head = Page(), Page()
    page.put(f"a = {quote(value)}", f"x{source}")
    page.note(source)
    page.put("b = 1")
    text, inferred = page.finished(head)
    assert tomllib.loads(text) == {"asks": [], "a": visible(value), "b": 1}
    (one,) = inferred
    assert text.splitlines()[one.line - 1].startswith(f"a = {quote(value)}")
    assert text.encode("utf-8")


@given(ANY, ANY, ANY)
def test_a_question_is_a_comment_and_an_entry(about: str, why: str, how: str) -> None:
    page, head = Page(), Page()
    head.ask("first", about, why, how)
    page.ask("second", how, about, why)
    page.ask("second", "again", "again", "again")
    page.put("b = 1")
    text, _ = page.finished(head)
    assert tomllib.loads(text) == {"asks": ["first", "second"], "b": 1}


def test_questions_are_bounded() -> None:
    page = Page()
    for number in range(MOST_ASKS + 5):
        page.ask(f"q{number}", "a", "b", "c")
    assert len(page.asks) == MOST_ASKS
