"""Version-like strings in bytes of no known layout, each with its offset. Candidates, never "the version".

There is no published form of a version. What is taken (common practice, no published source): a number behind a word
that announces a version ("named"; a lone number too where `:` stands between); else three to five numbers with
dots, or two behind `v` or behind a name in capitals ("number"). What is left out, because it is something else more
often than not: dates, addresses (RFC 791 four numbers up to 255, unless a version word announces them), object
identifiers (ITU-T X.660), quantities, and the versions of other things (`other_names`): libraries, tools, systems,
standards, licences, sections of a text.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from catalogue.formats.limits import MAX_STRINGS
from catalogue.formats.other_names import is_anothers, is_identifier
from catalogue.formats.text_hits import Hit, Sign, hits
from catalogue.formats.view import View
from catalogue.shapes.reading import NAMED, NUMBER, TRUST, VersionClaim

_MAX_TRIED = 4_000
"""Dots before a digit, and signs before a number, that are looked at more closely, of each kind."""
_MOST_LABEL = 40

# Beginning with one fixed byte keeps a search at memory speed.
_SIGNS: tuple[Sign, ...] = (
    re.compile(rb"\.(?:(?<=[0-9]\.)|\0(?<=[0-9]\0\.\0))[0-9]"),
    re.compile(rb":(?:(?<=[A-Za-z]{2}:)[ \t\"']?|\0(?<=[A-Za-z]\0:\0)(?:[ \t\"']\0)?)[0-9]"),
)
"""A dot between digits, and the colon between a word and a lone number. Each sign costs 3 ms per 4 MB."""

_NUMBERS = re.compile(r"(?:(?<![0-9A-Za-z.])|(?<=(?<![0-9A-Za-z.])[vV]))[0-9]{1,5}(?:\.[0-9]{1,5}){1,4}(?!_|\.?[0-9])")
_MORE = re.compile(
    r"(?:[A-Za-z]|-?(?:alpha|beta|pre|rc)[.-]?[0-9]{0,3})?"
    r"(?:[+~-][0-9A-Za-z]+(?:[.+~-][0-9A-Za-z]+)*)?(?![0-9A-Za-z_]|\.[0-9])"
)
_PLAIN = re.compile(r"(?:[A-Za-z]|-?(?:alpha|beta|pre|rc)[.-]?[0-9]{0,3})?(?![0-9A-Za-z_]|\.[0-9])")
_MOST_MORE = 40
_ONE = re.compile(r"[0-9]{1,8}[A-Za-z]?(?![0-9A-Za-z_.:/-])(?!\.[0-9]|,[0-9]| ?[%])")
_BEFORE = re.compile(r"(?P<word>\b[A-Za-z][\w+-]*)?(?P<gap>[ \t:=._(#/\"'-]{0,4}?)\Z")
_V = re.compile(r"(?<![0-9A-Za-z.])[vV]\Z")
_WORDS = frozenset(
    {"ver", "vers", "version", "rev", "revision", "rel", "release", "build", "bld", "fw", "firmware", "bios", "rom",
     "microcode", "ucode", "bootloader"}
)  # fmt: skip
_ENDS = ("version", "_ver", "_rev", "revision", "_fw", "_build", "buildnumber")
_AFTER_WORDS = frozenset({"number", "no", "num", "nr", "string", "id", "is", "code", "info"})
_LABEL = re.compile(r"(?:[A-Za-z][\w+/]*[ \t._-]{1,2}){0,2}[A-Za-z][\w+-]*\Z")
_NAME = re.compile(r"[A-Z][A-Z0-9_+-]{2,}")
_QUANTITY = re.compile(r"[ \t]?(?:%|[kKMGT]?(?:i?B|Hz|bit)\b|[mu]?[VAWsm]\b|inch|\")")
_BORDERS = frozenset("\0\t\n\r\f\v \"#$%&'()*,-/:;<=>?@[]^_`{|}~!+")
_RELEASED = re.compile(r"[+~-][0-9A-Za-z]| \((?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[a-z]* [0-9]")
_LONE_DATE = re.compile(r"(?:19[89][0-9]|20[0-9]{2})(?:0[1-9]|1[0-2])(?:0[1-9]|[12][0-9]|3[01])\Z")


def find(view: View, most_tried: int = _MAX_TRIED) -> tuple[VersionClaim, ...]:
    """The version-like strings, ASCII and UTF-16LE: named ones first, then numbers, by their offsets.

    At most MAX_STRINGS. Each value counts once, where it is trusted most and stands first. `most_tried` signs of each
    kind and width are looked at more closely. Raises nothing but the view's own OSError.
    """
    best: dict[str, VersionClaim] = {}
    for claim in _claims(view, most_tried):
        other = best.get(claim.value)
        if other is None or _rank(claim) < _rank(other):
            if other is None and len(best) >= 2 * MAX_STRINGS:
                continue
            best[claim.value] = claim
    return tuple(sorted(best.values(), key=_rank)[:MAX_STRINGS])


def may_hold(data: bytes) -> bool:
    """Whether a sign stands anywhere that a version has: without one nothing is found."""
    return any(sign.search(data) for sign in _SIGNS)


def _rank(claim: VersionClaim) -> tuple[int, int]:
    return TRUST.index(claim.trust), claim.offset or 0


def _claims(view: View, most_tried: int) -> Iterator[VersionClaim]:
    done = {1: 0, 2: 0}
    for sign, hit in hits(view, _SIGNS, most_tried):
        if sign:
            named = _behind_sign(hit)
            if named is not None:
                yield named
        elif hit.offset(hit.at) >= done[hit.width]:
            found = _around_dot(hit)
            if found is not None:
                claim, done[hit.width] = found
                yield claim


def _around_dot(hit: Hit) -> tuple[VersionClaim, int] | None:
    """The version that the dot of `hit` stands in, and where it ends; None where there is none."""
    text, begin = hit.text, hit.at
    while begin and "0" <= text[begin - 1] <= "9":
        begin -= 1
    numbers = _NUMBERS.match(text, begin)
    if numbers is None:
        return None
    more = _MORE.match(text, numbers.end(), numbers.end() + _MOST_MORE) or _PLAIN.match(text, numbers.end())
    if more is None:
        return None
    before = hit.before(begin)
    told = _told(before, numbers, more.end())
    if told is None:
        return None
    trust, source = told
    value = text[begin : more.end()]
    return VersionClaim(value, source, hit.offset(begin), trust), hit.offset(more.end())


def _behind_sign(hit: Hit) -> VersionClaim | None:
    """The lone number behind a version word and the sign of `hit`; None where there is none."""
    begin = hit.at + 1
    while begin < len(hit.text) and hit.text[begin] in " \t\"'":
        begin += 1
    if hit.text[begin : begin + 1] in ("v", "V"):
        begin += 1
    value = _ONE.match(hit.text, begin)
    if value is None or _LONE_DATE.match(value[0]):
        return None
    before = hit.before(begin)
    label = _label(before, _word(before))
    if not label or is_anothers(before):
        return None
    return VersionClaim(value[0], f'text after "{label}"', hit.offset(begin), NAMED)


def _told(before: str, numbers: re.Match[str], end: int) -> tuple[str, str] | None:
    """How far a dotted number is to be trusted, and its source; None where it is no version of the piece."""
    shown = _V.search(before)
    v = shown[0] if shown else ""
    around = _word(before)
    word = (around["word"] or "").strip("+-_")
    label = _label(before, around)
    text, begin = numbers.string, numbers.start()
    parts = numbers[0].split(".")
    announced = bool(v or label)
    if len(parts) == 2:
        # What most dots in a program fail at comes first.
        named = word and _NAME.fullmatch(word) and not around["gap"].strip(" \t")
        released = word and _is_date(parts) and _RELEASED.match(text, numbers.end())
        if not announced and not named and not released:
            return None
        if not _stands_alone(text, begin - len(v), end) or _QUANTITY.match(text, numbers.end()):
            return None
        if _is_date(parts) and not released:
            return None
    elif _is_date(parts):
        return None
    if len(parts) == 4 and not announced and all(one == str(int(one)) and int(one) <= 255 for one in parts):
        return None
    if is_identifier(numbers[0]) or is_anothers(before):
        return None
    if label:
        return NAMED, f'text after "{label}"'
    behind = f"{word} {v}".strip()
    return NUMBER, f'dotted number behind "{behind}"' if behind else "dotted number"


def _word(before: str) -> re.Match[str]:
    """The word before a number, and what stands between them, `v` apart."""
    found = _BEFORE.search(_V.sub("", before))
    assert found is not None
    return found


def _label(before: str, around: re.Match[str]) -> str:
    """The words that announce a version, with their sign; "" where the last of them announces none."""
    word = (around["word"] or "").strip("+-_")
    low, start = word.lower(), around.start("gap")
    if low in _AFTER_WORDS:
        earlier = re.search(r"([A-Za-z][\w+-]*)[ \t._-]{1,2}[A-Za-z]+\Z", before[:start])
        low = earlier[1].lower() if earlier else ""
    if low.rsplit("-", 1)[-1] not in _WORDS and not low.endswith(_ENDS):
        return ""
    found = _LABEL.search(before[:start])
    said = (found[0] if found else word)[-_MOST_LABEL:]
    return said + around["gap"].strip()[:1].replace('"', "").replace("'", "")


def _stands_alone(text: str, begin: int, end: int) -> bool:
    """Whether signs of a text are on both sides: between other bytes two numbers and a dot stand by chance."""
    if begin and text[begin - 1] not in _BORDERS:
        return False
    return end == len(text) or text[end] in _BORDERS or text[end] == "."


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
