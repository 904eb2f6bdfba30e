"""Days that the bytes of a piece state in words or numbers, each with its offset: when it was built, as a rule.

What is taken: ISO 8601 (4.3.2.2) and its kin with other separators; a month's name with day and year, as a C compiler
writes `__DATE__` (ISO C, 6.10.8.1), as asctime (ISO C, 7.27.3.1) and as people do; month, day and year in numbers, the
form of PC firmware (SMBIOS 3.x, type 0, "BIOS Release Date"); eight digits behind a word that announces a date. Days
that no calendar has are left out, and so are years alone: those of a copyright say when nothing was built.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date

from catalogue.formats.limits import MAX_DATES
from catalogue.formats.other_names import is_anothers
from catalogue.formats.text_hits import Hit, Sign, hits
from catalogue.formats.view import View
from catalogue.shapes.reading import DateClaim

_MAX_TRIED = 2_000
_SIGNS: tuple[Sign, ...] = (
    re.compile(rb"0(?:(?<=20)[0-4][0-9]|\0(?<=2\0.\0)[0-4]\0[0-9])", re.DOTALL),
    re.compile(rb"9(?:(?<=19)[89][0-9]|\0(?<=1\0.\0)[89]\0[0-9])", re.DOTALL),
)
"""A year of four digits, at its second one."""
_PC_BLOCK, _PC_BEFORE_END = 0x1_0000, 11
"""Firmware of a PC keeps MM/DD/YY at FFF5h of the last 64 KiB under 1 MiB (common practice, no published source)."""
_FULL = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
         "december")  # fmt: skip
_MONTHS = [one[:3] for one in _FULL]
_MONTH = r"(?P<month>" + "|".join(f"{one[:3]}(?:{one[3:]})?" if one[3:] else one for one in _FULL) + r"|sept)\.?"
_TIME = r"(?:[0-9]{1,2}:[0-9]{2}(?::[0-9]{2})?(?: [A-Z]{2,4})? )?"
_FORMS = tuple(
    re.compile(rf"(?<![0-9A-Za-z])(?<![0-9][.,/-]){one}(?![0-9A-Za-z])(?![./-][0-9])", re.I)
    for one in (
        rf"{_MONTH}[ ]{{1,2}}(?P<day>[0-9]{{1,2}})(?:,? |, ?){_TIME}(?P<year>[0-9]{{4}})",
        rf"(?P<day>[0-9]{{1,2}})(?:st|nd|rd|th)?[ -]{_MONTH},?[ -](?P<year>[0-9]{{4}})",
    )
)
_NUMBERS = re.compile(
    r"(?<![0-9A-Za-z])(?<![0-9][.,/-])(?:"
    r"(?P<year>[0-9]{4})(?P<gap>[-/.])(?P<month>[0-9]{2})(?P=gap)(?P<day>[0-9]{2})(?=T[0-9]{2}|Z?(?![0-9A-Za-z]))"
    r"|(?P<one>[0-9]{1,2})(?P<between>[-/.])(?P<two>[0-9]{1,2})(?P=between)(?P<last>[0-9]{4}|(?<=/)[0-9]{2})(?![0-9A-Za-z])"
    r")(?![./-][0-9])"
)
_PC = re.compile(r"[01][0-9]/[0-3][0-9]/[0-9]{2}")
_COMPACT = re.compile(
    r"(?P<word>date|dated|built?|build|bld|rel|release|released|ver|version|rev|stamp|timestamp|git|snapshot|compiled)"
    r"[ \t:=._(#/-]{1,3}(?P<value>(?P<year>[0-9]{4})(?P<month>[0-9]{2})(?P<day>[0-9]{2}))(?![0-9A-Za-z])",
    re.I,
)
_NUMBERED = re.compile(r"[0-9][\w.+-]*[ (,]*\Z")
"""A library's day stands behind its version."""
_ANNOUNCED = re.compile(
    r"(?P<label>(?:[A-Za-z]+[ \t_-])?(?:date|dated|built(?: on)?|build|compiled(?: on)?|released?|timestamp))"
    r"[ \t]*[:=(,]?[ \t]*(?:(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*,? )?\Z",
    re.I,
)


def find(view: View) -> tuple[DateClaim, ...]:
    """The dates, ASCII and UTF-16LE, by their offsets, each day once; at most MAX_DATES.

    Raises nothing but the view's own OSError.
    """
    found: dict[str, DateClaim] = {}
    for claim in _claims(view):
        if claim is not None and len(found) < 2 * MAX_DATES:
            found.setdefault(claim.value, claim)
    return tuple(sorted(found.values(), key=lambda one: one.offset or 0)[:MAX_DATES])


def _claims(view: View) -> Iterator[DateClaim | None]:
    for _, hit in hits(view, _SIGNS, _MAX_TRIED):
        yield _around(hit)
    if view.size and view.size % _PC_BLOCK == 0:
        place = view.size - _PC_BEFORE_END
        text = view.at(place, 8).decode("latin-1")
        if _PC.fullmatch(text):
            yield _around(Hit(text, 2, place, 1))


def may_hold(data: bytes) -> bool:
    """Whether a year, or month/day/year, stands anywhere: without one nothing is found."""
    return any(sign.search(data) for sign in _SIGNS) or (len(data) % _PC_BLOCK == 0 and bool(data))


def _around(hit: Hit) -> DateClaim | None:
    """The date that the sign of `hit` stands in, None where there is none."""
    for match in _matches(hit.text):
        if match.start() <= hit.at < match.end():
            value = _day(match)
            begin = match.start("value") if "value" in match.groupdict() else match.start()
            if value and not is_anothers(_NUMBERED.sub("", hit.before(begin))):
                written = hit.text[begin : match.end()]
                return DateClaim(value, _source(hit, begin, value, written), hit.offset(begin))
    return None


def _matches(text: str) -> Iterator[re.Match[str]]:
    for one in _FORMS:
        yield from one.finditer(text)
    yield from _NUMBERS.finditer(text)
    yield from _COMPACT.finditer(text)


def _source(hit: Hit, begin: int, value: str, written: str) -> str:
    announced = _ANNOUNCED.search(hit.before(begin))
    source = f'text after "{announced["label"].strip()}"' if announced else "date stamp"
    if value == written and "-" not in written:
        return f"{source}; day and month may be exchanged"
    return source if value == written else f'{source}, written "{written}"'


def _day(match: re.Match[str]) -> str:
    """YYYY-MM-DD; as written where it is two days; "" where it is none."""
    named = match.groupdict()
    if named.get("one") is None:
        month = named["month"].lower()
        return _iso(named["year"], month if month.isdigit() else str(_MONTHS.index(month[:3]) + 1), named["day"])
    year = named["last"]
    if len(year) == 2:
        # Two digits are the PC's own form, month first; the form ended with the century that began before 1980.
        year = f"{'19' if int(year) >= 80 else '20'}{year}"
    one, two = _iso(year, named["one"], named["two"]), _iso(year, named["two"], named["one"])
    if one and two and one != two and match["between"] != ".":
        return match[0]
    return two or one if match["between"] == "." else one or two


def _iso(year: str, month: str, day: str) -> str:
    try:
        found = date(int(year), int(month), int(day))
    except ValueError:
        return ""
    return found.isoformat() if 1980 <= found.year < 2050 else ""
