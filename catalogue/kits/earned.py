"""The last look before *ready*: what had to be proved and no rule spoke of.

Rules stop what is wrong; this asks whether what must be right was shown. Should the rules ever leave a gap, a stop
fills it, for a kit wrongly called ready is the worst this program can do.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from catalogue.kits.choose import Pick
from catalogue.kits.criteria import SILENT, YES
from catalogue.kits.kit_case import KitCase
from catalogue.kits.rule import RULE_FAILED
from catalogue.kits.vouching import ENOUGH_TO_WRITE
from catalogue.shapes.finding import Evidence, Finding, Level


def unearned(case: KitCase, findings: Sequence[Finding]) -> Iterator[Finding]:
    """A stop for each role of which something needful was neither shown, nor stopped, nor given a word."""
    for pick in case.picks:
        mine = [one for one in findings if one.role == pick.role]
        stopped = any(one.level is Level.STOP for one in mine)
        why = "" if stopped else _gap(pick, {one.code for one in mine})
        if why:
            yield Finding(
                code=RULE_FAILED,
                level=Level.STOP,
                text=f"No rule stopped role {pick.role}, yet {why}.",
                evidence=(Evidence(case.role_line(pick.role), "role", None, None, "proved", why),),
                remedy="This is a fault of the program: report it with this line. Do not write this kit.",
                role=pick.role,
                piece=pick.chosen.sha256 if pick.chosen is not None else None,
            )


def _gap(pick: Pick, codes: set[str]) -> str:
    """What is not proved of an unstopped role; "" where nothing is lacking."""
    chosen = pick.chosen
    if chosen is None:
        return "it is needed and empty" if pick.wanted.needed else ""
    if chosen.case.fit != YES and not (chosen.case.fit == SILENT and "fit-unproved" in codes):
        return "its fit is not proved"
    written = pick.wanted.role.written
    if written and chosen.case.standing.rank > ENOUGH_TO_WRITE and "unvouched" not in codes:
        return "its bytes are not vouched for"
    if any(not one.found for one in chosen.case.companions):
        return "a file it needs beside it is missing"
    return ""
