"""Why a near piece was not chosen.

Decisions on sentences of the contract:
- "`why` a list of codes, or `older`, `tie`": a miss or a waiting piece gives the codes that stop it, a piece beyond all
  known versions `beyond-known` too. A candidate that another release claims than the one taken gives `mixed-release`,
  one that none claims `release-unknown`; one of the chosen version with other bytes `same-version-two-contents`; one
  that is newer than the chosen but less well vouched for its cautions, or `unvouched`. All else is `older`.
"""

from __future__ import annotations

from catalogue.kits.choose import Pick
from catalogue.kits.weigh import Status, Weighed
from catalogue.shapes.finding import Level
from catalogue.shapes.kit import Other

OLDER, TIE = "older", "tie"
BEYOND = "beyond-known"


def others(pick: Pick) -> tuple[Other, ...]:
    """The near pieces of `pick` that were not chosen, by SHA-256."""
    tied = pick.tied_pieces
    return tuple(Other(one.sha256, why_not(pick, one, tied)) for one in pick.near if one is not pick.chosen)


def why_not(pick: Pick, one: Weighed, tied: frozenset[str]) -> tuple[str, ...]:
    """Codes, `older` or `tie`; `tied` are the pick's tied pieces."""
    codes: tuple[str, ...] = ()
    if one.status is not Status.CANDIDATE or one.beyond:
        beyond = {BEYOND} if one.beyond else set()
        codes = tuple(sorted(beyond | one.codes))
    if one.sha256 in tied:
        return (*codes, TIE)
    if codes:
        return codes
    chosen = pick.chosen
    if chosen is None:
        return ("mixed-release",) if one.case.claiming else ("release-unknown",)
    mine, theirs = one.case.version, chosen.case.version
    if mine is None or theirs is None:
        return (OLDER,) if mine is None and theirs is not None else _cautions(one)
    side = one.case.known.compare(mine.name, theirs.name)
    if side < 0:
        return (OLDER,)
    if side == 0:
        return ("same-version-two-contents",)
    if chosen.case.claiming and not any(release in chosen.case.claiming for release in one.case.claiming):
        return ("mixed-release",) if one.case.claiming else ("release-unknown",)
    return _cautions(one)


def _cautions(one: Weighed) -> tuple[str, ...]:
    codes = {finding.code for finding in one.findings if finding.level is Level.CAUTION}
    return tuple(sorted(codes)) or ("unvouched",)
