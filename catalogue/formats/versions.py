"""Version-like strings in bytes of no known layout, each with its offset. Candidates, never "the version".

There is no published form of a version. What is taken (common practice, no published source): three to five numbers
with dots, or two behind a word that announces a version or behind a name in capitals; a letter or a pre-release word
may follow. What is left out, because it is something else more often than not: dates, addresses (RFC 791 four numbers
up to 255, unless a version word announces them), object identifiers (ITU-T X.660: six numbers and more), quantities,
lone numbers.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from catalogue.formats.limits import MAX_SCAN, MAX_STRINGS
from catalogue.formats.view import View
from catalogue.shapes.reading import VersionClaim

SOURCE = "text"
_CHUNK = 256 << 10
_BEFORE, _AFTER = 48, 64
"""Characters looked at around a dot."""
_OVERLAP = 2 * (_BEFORE + _AFTER)
_MAX_TRIED = 4_000
"""Dots before a digit that are looked at more closely."""
_TAIL = 1 << 20
"""Bytes at the end of a long piece that are looked through besides its beginning."""

# A dot between digits, in either width. Beginning with one fixed byte keeps the search at memory speed.
_DOT = re.compile(rb"\.(?:(?<=[0-9]\.)|\0(?<=[0-9]\0\.\0))[0-9]")
_NUMBER = re.compile(
    r"(?P<word>\b[A-Za-z][\w+-]*)?(?P<gap>[ \t:=._(#/-]{0,3})"
    r"(?<![0-9A-Za-z.])(?P<v>[vV])?"
    r"(?P<value>(?P<numbers>[0-9]{1,5}(?:\.[0-9]{1,5}){1,4})(?P<more>[A-Za-z]|-?(?:alpha|beta|pre|rc)[.-]?[0-9]{0,3})?)"
    r"(?![0-9A-Za-z_]|\.[0-9])"
)
# What _NUMBER wants of a value and around it, without the word: looked at first, at a fifth of the cost.
_BARE = re.compile(r"(?:(?<![0-9A-Za-z.])|(?<=(?<![0-9A-Za-z.])[vV]))[0-9]{1,5}(?:\.[0-9]{1,5}){1,4}(?![0-9_]|\.[0-9])")
_WORDS = frozenset(
    {"v", "ver", "vers", "version", "rev", "revision", "rel", "release", "build", "bld", "fw", "firmware", "bios",
     "rom", "fileversion", "productversion"}
)  # fmt: skip
_NAME = re.compile(r"[A-Z][A-Z0-9_+-]{2,}")
_QUANTITY = re.compile(r"[ \t]?(?:%|[kKMGT]?(?:i?B|Hz|bit)\b|[mu]?[VAWsm]\b|inch|\")")
_BORDERS = frozenset("\0\t\n\r\f\v \"#$%&'()*,-/:;<=>?@[]^_`{|}~!+")


def find(view: View, most_tried: int = _MAX_TRIED) -> tuple[VersionClaim, ...]:
    """The version-like strings, ASCII and UTF-16LE, in the order of their offsets; at most MAX_STRINGS.

    Of a piece longer than MAX_SCAN the beginning and the last megabyte are looked through. Each value counts once,
    where it stands first. `most_tried` dots are looked at more closely. Raises nothing but the view's own OSError.
    """
    claims: list[VersionClaim] = []
    seen: set[str] = set()
    for offset, value in _candidates(view, most_tried):
        if value not in seen:
            seen.add(value)
            claims.append(VersionClaim(value, SOURCE, offset))
            if len(claims) >= MAX_STRINGS:
                break
    return tuple(claims)


def may_hold(data: bytes) -> bool:
    """Whether a dot stands between two digits anywhere: without one nothing is found."""
    return _DOT.search(data) is not None


def _candidates(view: View, most_tried: int) -> Iterator[tuple[int, str]]:
    stretches = [(0, view.size)]
    if view.size > MAX_SCAN:
        stretches = [(0, MAX_SCAN - _TAIL), (view.size - _TAIL, view.size)]
    tried = 0
    for first, last in stretches:
        done = first
        for at in range(first, last, _CHUNK):
            start = max(first, at - _OVERLAP)
            data = view.at(start, min(at + _CHUNK + _OVERLAP, last) - start)
            for hit in _DOT.finditer(data):
                if start + hit.start() < max(done, at) or hit.start() >= at + _CHUNK - start:
                    continue
                width = 1 if hit.end() - hit.start() == 2 else 2
                tried += 1
                if tried > most_tried:
                    return
                found = _around(data, hit.start(), width)
                if found is not None:
                    done = start + found[1]
                    yield start + found[0], found[2]


def _around(data: bytes, dot: int, width: int) -> tuple[int, int, str] | None:
    """The version that the dot at `dot` stands in: its start, its end and its text; None where there is none."""
    back = min(_BEFORE, dot // width)
    window = data[dot - back * width : dot + _AFTER * width]
    if width == 2:
        window = _narrow(window)
    text = window.decode("latin-1")
    begin = back
    while begin and "0" <= text[begin - 1] <= "9":
        begin -= 1
    if _BARE.match(text, begin) is None:
        return None
    word_from = max(0, begin - 24)
    for match in _NUMBER.finditer(text, word_from):
        if match.start("value") > begin:
            break
        if match.start("value") == begin:
            if not _is_version(text, match):
                return None
            origin = dot - back * width
            return origin + begin * width, origin + match.end("value") * width, match["value"]
    return None


def _narrow(window: bytes) -> bytes:
    """The low bytes of UTF-16LE; FFh stands where the high byte is not 0, so that no text runs across it."""
    if not any(window[1::2]):
        return window[::2]
    return bytes(low if high == 0 else 0xFF for low, high in zip(window[::2], window[1::2], strict=False))


def _is_version(text: str, match: re.Match[str]) -> bool:
    numbers = match["numbers"].split(".")
    word = (match["word"] or "").strip("+-_")
    announced = bool(match["v"]) or word.lower() in _WORDS
    if len(numbers) == 2:
        # What most dots in a program fail at comes first.
        if not announced and not (word and _NAME.fullmatch(word) and match["gap"].strip(" \t") == ""):
            return False
        if not _stands_alone(text, match) or _QUANTITY.match(text, match.end("numbers")):
            return False
    if _is_date(numbers):
        return False
    if len(numbers) == 2:
        return True
    if len(numbers) == 4 and not announced:
        return not all(one == str(int(one)) and int(one) <= 255 for one in numbers)
    return True


def _stands_alone(text: str, match: re.Match[str]) -> bool:
    """Whether signs of a text are on both sides: between other bytes two numbers and a dot stand by chance."""
    before = match.start("v") if match["v"] else match.start("value")
    if before and text[before - 1] not in _BORDERS:
        return False
    return match.end() == len(text) or text[match.end()] in _BORDERS or text[match.end()] == "."


def _is_date(numbers: list[str]) -> bool:
    """Whether three numbers are a day, a month and a four-digit year, in either direction, or a year and a month."""
    values = [int(one) for one in numbers]
    years = [len(one) == 4 and 1970 <= value <= 2099 for one, value in zip(numbers, values, strict=True)]
    if len(values) == 2:
        return (years[1] and 1 <= values[0] <= 12) or (years[0] and 1 <= values[1] <= 12 and len(numbers[1]) == 2)
    if len(values) != 3 or not (years[0] or years[2]):
        return False
    low, high = sorted((values[0], values[1]) if years[2] else (values[1], values[2]))
    return 1 <= low <= 12 and high <= 31
