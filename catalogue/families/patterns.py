"""The pattern language of a family file: where a pattern stands in a piece's bytes, and what its placeholder took.

A pattern is text with at most one placeholder. Bytes are matched, case kept, as ASCII and as UTF-16LE; the earliest
match counts. Every pattern becomes one compiled expression made of escaped text and possessive, bounded runs, so that a
try costs a bounded number of steps and never goes back; tries are bounded too.

- `{version}`: the longest run of letters, digits, `.` `_` `-` with a digit in it; punctuation at its end is cut.
- `{slot}`: the longest run of letters, digits, `:` `.`, at most 16; punctuation at its end is cut.
- `{value}`: to NUL or line end, blanks at both ends cut; it stands last.
- `~`: one or more of blank, tab, dot, colon, equals sign; swallows the blanks around it in the pattern.
- Text without a placeholder is a `has` string: every character stands for itself, and no letter or digit may follow or
  precede it where it itself ends or begins with one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from catalogue.families.limits import MAX_SEPARATOR, MAX_SLOT, MAX_TRIES, MAX_VALUE, MAX_VERSION
from catalogue.families.model import Family
from catalogue.shapes.reading import Match

SEPARATORS = " \t.:="
ENCODINGS = ("ascii", "utf-16-le")

_PLACE = re.compile(r"\{(version|value|slot)\}")
_AROUND_SEPARATOR = re.compile(r"[ \t]*~[ \t~]*")


@dataclass(frozen=True, slots=True)
class Token:
    """One part of a pattern: kind is text, separator, version, value or slot."""

    kind: str
    text: str = ""


@dataclass(frozen=True, slots=True)
class _Compiled:
    """A pattern ready for one encoding. `opening` is text that every match holds; `leads`: it begins every match."""

    opening: bytes
    leads: bool
    matcher: re.Pattern[bytes]
    encoding: str


def placeholder_of(pattern: str) -> str | None:
    """The name of the pattern's placeholder, or None where it has none."""
    found = _PLACE.search(pattern)
    return found.group(1) if found else None


def tokens(pattern: str) -> tuple[Token, ...]:
    """A pattern's parts in order.

    Raises ValueError, with words for a person, where it is no pattern: characters that are not printable ASCII, stray
    braces, two placeholders, something behind `{value}`, no text at all, or a separator's character right behind `~`.
    """
    if not pattern.isascii() or not pattern.isprintable():
        raise ValueError("only printable ASCII can be looked for")
    out: list[Token] = []
    places = 0
    for index, part in enumerate(_PLACE.split(pattern)):
        if index % 2:
            places += 1
            out.append(Token(part))
            continue
        if "{" in part or "}" in part:
            raise ValueError("braces stand only around version, value or slot")
        pieces = _AROUND_SEPARATOR.split(part)
        for number, text in enumerate(pieces):
            if number:
                out.append(Token("separator"))
            if text:
                out.append(Token("text", text))
    if places > 1:
        raise ValueError("a pattern has one placeholder at most")
    if not any(one.kind == "text" for one in out):
        raise ValueError("a pattern needs text to look for beside its placeholder")
    for one, following in pairwise(out):
        if one.kind == "value":
            raise ValueError("{value} runs to the end of the line, so nothing can stand behind it")
        if one.kind == "separator" and following.kind == "text" and following.text[0] in SEPARATORS:
            raise ValueError("~ already takes every blank, dot, colon and equals sign; leave out those behind it")
    return tuple(out)


def _class(chars: str, wide: bool) -> str:
    """One character of a class, as an expression for one or two bytes."""
    return f"(?:[{chars}]\\x00)" if wide else f"[{chars}]"


def _expression(part: Token, wide: bool, opens: bool) -> str:
    if part.kind == "text":
        return re.escape(part.text.encode(ENCODINGS[wide])).decode("latin-1")
    if part.kind == "value":
        one = r"(?:(?!(?:\x00|\r|\n)\x00)..)" if wide else r"[^\x00\r\n]"
        blank = _class(r" \t", wide)
        return f"(?!{one}{{{MAX_VALUE + 1}}}){blank}*+(?P<took>{one}++)"
    if part.kind == "separator":
        run = _class(r" \t.:=", wide)
        return f"{_run_begins(run, opens)}{run}{{1,{MAX_SEPARATOR}}}+(?!{run})"
    punctuation, most = (r"._\-", MAX_VERSION) if part.kind == "version" else (r":.", MAX_SLOT)
    word, marks = _class("A-Za-z0-9", wide), _class(punctuation, wide)
    run = _class("A-Za-z0-9" + punctuation, wide)
    whole = f"(?:{word}++|{marks}++(?={word}))++"
    digit = f"(?={_class('A-Za-z' + punctuation, wide)}*+{_class('0-9', wide)})" if part.kind == "version" else ""
    return f"{_run_begins(run, opens)}(?!{run}{{{most + 1}}}){digit}(?P<took>{whole})"


def _run_begins(run: str, opens: bool) -> str:
    """A pattern that begins with a run begins where the run does."""
    return f"(?<!{run})" if opens else ""


@lru_cache(maxsize=4096)
def _compiled(pattern: str) -> tuple[_Compiled, ...]:
    parts = tokens(pattern)
    longest = max((one.text for one in parts if one.kind == "text"), key=len)
    out = []
    for wide, encoding in enumerate(ENCODINGS):
        text = "".join(_expression(one, bool(wide), number == 0) for number, one in enumerate(parts))
        leads = parts[0].kind == "text"
        opening = parts[0].text if leads else longest
        matcher = re.compile(text.encode("latin-1"), re.DOTALL)
        out.append(_Compiled(opening.encode(encoding), leads, matcher, encoding))
    return tuple(out)


def _search(data: bytes, compiled: _Compiled, before: int) -> re.Match[bytes] | None:
    """The first match that begins before `before`."""
    if not compiled.leads:
        found = compiled.matcher.search(data) if compiled.opening in data else None
        return found if found and found.start() < before else None
    for at in _places(data, compiled.opening, before):
        found = compiled.matcher.match(data, at)
        if found:
            return found
    return None


def _places(data: bytes, sought: bytes, before: int) -> Iterator[int]:
    """Where `sought` stands, beginning before `before`; MAX_TRIES places at most."""
    end = before - 1 + len(sought)
    at = data.find(sought, 0, end)
    for _ in range(MAX_TRIES):
        if at < 0:
            return
        yield at
        at = data.find(sought, at + 1, end)


def find(data: bytes, pattern: str) -> Match | None:
    """Where `pattern` first stands in `data`, or None.

    Offset and length cover the whole match; `value` is what the placeholder took, with bytes that are no text as
    backslash escapes. A pattern without a placeholder is looked for by `find_text`. Raises ValueError for what is no
    pattern (`tokens` says why); those that `patterns_of` gives are sound.
    """
    if placeholder_of(pattern) is None:
        return find_text(data, pattern)
    best: Match | None = None
    for compiled in _compiled(pattern):
        found = _search(data, compiled, best.offset if best else len(data))
        if found:
            best = _match(found, compiled.encoding)
    return best


def _match(found: re.Match[bytes], encoding: str) -> Match:
    took = found.group("took")
    start, took_at = found.start(), found.start("took")
    end = found.end()
    if found.end("took") == end:
        step = 2 if encoding == "utf-16-le" else 1
        blanks = tuple(one.encode(encoding) for one in " \t")
        while took.endswith(blanks):
            took = took[:-step]
        end = took_at + len(took)
    return Match(start, end - start, took.decode(encoding, "backslashreplace"))


def find_text(data: bytes, text: str) -> Match | None:
    """Where a `has` string first stands in `data` with a boundary, or None.

    Raises ValueError where the text is empty or is not ASCII.
    """
    if not text or not text.isascii():
        raise ValueError("only ASCII text can be looked for")
    best: Match | None = None
    for encoding in ENCODINGS:
        sought = text.encode(encoding)
        at = _find_bounded(data, sought, text, encoding, best.offset if best else len(data))
        if at is not None:
            best = Match(at, len(sought))
    return best


def _find_bounded(data: bytes, sought: bytes, text: str, encoding: str, before: int) -> int | None:
    step = 2 if encoding == "utf-16-le" else 1
    for at in _places(data, sought, before):
        end = at + len(sought)
        clear_before = not text[0].isalnum() or not _alnum(data[max(0, at - step) : at], step)
        clear_after = not text[-1].isalnum() or not _alnum(data[end : end + step], step)
        if clear_before and clear_after:
            return at
    return None


def _alnum(unit: bytes, step: int) -> bool:
    """Whether one character (one byte, or two in UTF-16LE) is an ASCII letter or digit."""
    return len(unit) == step and unit[:1].isalnum() and not unit[1:].strip(b"\0")


def patterns_of(family: Family) -> tuple[str, ...]:
    """The version patterns and `has` strings that a search of candidates needs, each once, in the file's order."""
    out: dict[str, None] = {}
    for role in family.roles.values():
        for one in (*role.has.values(), *((role.version,) if role.version else ())):
            out[one] = None
    return tuple(out)
