"""What the texts inside a program say of it: version-like strings and dates, from the stretches that hold its data.

Names of symbols, records of the tool chain and signatures are other stretches: their numbers are not the program's.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from catalogue.formats import date_stamps, versions
from catalogue.formats.limits import MAX_DATES, MAX_SCAN, MAX_STRINGS
from catalogue.formats.view import PartView, View
from catalogue.shapes.reading import TRUST, DateClaim, VersionClaim

_MAX_TRIED = 1_000
"""Signs of each kind looked at in one stretch: a program has many, and many numbers in it."""


@dataclass(frozen=True, slots=True)
class OwnText:
    """The claims found, with offsets in the whole view: the most trusted first; dates by their offsets."""

    versions: tuple[VersionClaim, ...] = ()
    dates: tuple[DateClaim, ...] = ()


def read(view: View, stretches: Iterable[tuple[int, int]]) -> OwnText:
    """The claims in the stretches [start, end) of `view`, MAX_SCAN bytes of them at most, equal values once.

    Raises nothing but the view's own OSError.
    """
    claims: dict[str, VersionClaim] = {}
    dates: dict[str, DateClaim] = {}
    left = MAX_SCAN
    for start, end in sorted(stretches):
        length = min(end - start, left)
        if length <= 0:
            continue
        left -= length
        part = PartView(view, start, length)
        for claim in versions.find(part, _MAX_TRIED):
            moved = replace(claim, offset=start + (claim.offset or 0))
            other = claims.get(claim.value)
            if other is None or TRUST.index(moved.trust) < TRUST.index(other.trust):
                claims[claim.value] = moved
        for one in date_stamps.find(part):
            dates.setdefault(one.value, replace(one, offset=start + (one.offset or 0)))
    ranked = sorted(claims.values(), key=lambda one: (TRUST.index(one.trust), one.offset or 0))
    return OwnText(tuple(ranked[:MAX_STRINGS]), tuple(dates.values())[:MAX_DATES])
