"""One release a bundle: the pieces that came together, and the day that the bundle's texts say."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from catalogue.families.drafting.given import Piece, Text
from catalogue.families.drafting.roles import ORDER

MOST_RELEASES = 100
_MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
           "december")  # fmt: skip
_DAY = re.compile(
    rf"\b(?:(?P<iso>(?:19|20)[0-9]{{2}}-[01][0-9]-[0-3][0-9])|(?P<day>[0-3]?[0-9]) (?P<month>{'|'.join(_MONTHS)}) "
    r"(?P<year>(?:19|20)[0-9]{2}))\b",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class SeenRelease:
    """The pieces of one bundle by role. `day` is the only day that its texts say, None where none or several."""

    name: str
    claims: dict[str, tuple[Piece, ...]]
    day: date | None
    day_source: str


def seen_releases(
    roles: dict[str, tuple[Piece, ...]], texts: Iterable[Text], cards: frozenset[str], folder: str
) -> tuple[SeenRelease, ...]:
    """Each bundle's release; `cards` are SHA-256s of what was saved from a card, which no maker published."""
    held = tuple(texts)
    bundles = dict.fromkeys(name for pieces in roles.values() for one in pieces for name in one.bundles)
    out: dict[tuple[tuple[str, ...], ...], SeenRelease] = {}
    for bundle in bundles:
        claims = {
            role: found
            for role in ORDER
            if (found := tuple(one for one in roles.get(role, ()) if bundle in one.bundles and one.sha256 not in cards))
        }
        if not claims:
            continue
        day, source = _day(tuple(text for text in held if bundle in text.bundles and not text.saved))
        same = tuple(tuple(sorted(one.sha256 for one in found)) for found in claims.values())
        out.setdefault(same, SeenRelease(bundle or folder, claims, day, source))
    return tuple(out.values())[:MOST_RELEASES]


def _day(texts: tuple[Text, ...]) -> tuple[date | None, str]:
    found: dict[date, str] = {}
    for text in texts:
        for number, line in enumerate(text.lines[:2_000]):
            for one in _DAY.finditer(line[:1_000]):
                day = _date(one)
                if day is not None:
                    found.setdefault(day, text.at(number))
    return next(iter(found.items())) if len(found) == 1 else (None, "")


def _date(found: re.Match[str]) -> date | None:
    try:
        if found["iso"]:
            return date.fromisoformat(found["iso"])
        return date(int(found["year"]), _MONTHS.index(found["month"].lower()) + 1, int(found["day"]))
    except ValueError:
        return None
