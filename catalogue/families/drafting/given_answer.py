"""What a person gives as an answer, as values; each refuses what is none, in a sentence. Raises BadCall throughout."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date

from catalogue.errors import BadCall
from catalogue.families.cursor import NAME, one_of
from catalogue.families.limits import MAX_TEXT
from catalogue.shapes.draft import Question
from catalogue.shapes.visible import visible

Answer = str | Mapping[str, str] | None
"""A text, a text for each row, or None for "I do not know"."""
NUMBER = re.compile(r"[0-9][0-9_ ]{0,15}|0x[0-9A-Fa-f]{1,8}")


def one_text(value: Answer) -> str:
    """The one text of an answer."""
    if not isinstance(value, str):
        raise BadCall("This question takes one text.")
    return value


def plain(text: str) -> str:
    """One printable line that says something."""
    text = text.strip()
    if not text:
        raise BadCall("The answer is empty. Where you do not know, say so.")
    if len(text) > MAX_TEXT or not text.isprintable():
        raise BadCall(f"An answer is one line of at most {MAX_TEXT} characters that can be shown.")
    return text


def each_row(question: Question, value: Answer) -> dict[str, str]:
    """The answer a row; rows left empty are absent."""
    if not isinstance(value, Mapping):
        raise BadCall(f"This question takes a text for each of {one_of(question.rows)}.")
    strange = [one for one in value if one not in question.rows]
    if strange:
        raise BadCall(f"There is no {visible(strange[0], 60)} in this question; it takes {one_of(question.rows)}.")
    return {row: plain(value[row]) for row in question.rows if value.get(row, "").strip()}


def want(given: Mapping[str, str], *rows: str) -> list[str]:
    """The texts of rows that must not be empty."""
    missing = [one for one in rows if one not in given]
    if missing:
        raise BadCall(f"{missing[0].capitalize()} is missing.")
    return [given[one] for one in rows]


def parts(text: str, offers: Sequence[str] = ()) -> list[str]:
    """Parts between commas or blanks, each one of `offers` where there are any."""
    found = list(dict.fromkeys(one for one in re.split(r"[,;\s]+", text) if one))
    wrong = [one for one in found if offers and one not in offers]
    if wrong:
        raise BadCall(f'"{visible(wrong[0], 60)}" is none of {one_of(offers)}.')
    return found


def number(text: str) -> int:
    """A whole number, decimal or 0x."""
    text = plain(text)
    if not NUMBER.fullmatch(text):
        raise BadCall(f'"{visible(text, 60)}" is no whole number.')
    return int(text, 16) if text.startswith("0x") else int(text.replace("_", "").replace(" ", ""))


def day(text: str) -> date:
    """A day."""
    try:
        return date.fromisoformat(plain(text))
    except ValueError as why:
        raise BadCall(f'"{visible(text, 60)}" is no day such as 2026-03-01.') from why


def choice(question: Question, value: Answer) -> str:
    """One of what the question offers."""
    text = plain(one_text(value))
    if question.offers and text not in question.offers:
        raise BadCall(f'"{visible(text, 60)}" is none of {one_of(question.offers)}.')
    return text


def mode_name(text: str) -> str:
    """A name for a mode or a state."""
    if not NAME.fullmatch(text):
        raise BadCall(f'"{visible(text, 60)}" is no name for a mode: 1 to 32 letters, digits, - and _.')
    return text
