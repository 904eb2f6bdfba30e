"""Rules on the kit as a whole: its family, its route, what was never tried. See `kit_rules` for what was decided."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from catalogue.kits.kit_case import KitCase
from catalogue.kits.rule import Hit, Rule, Weight
from catalogue.kits.untaught import untaught
from catalogue.shapes.finding import Evidence

_MOST_SHOWN = 20


def knowledge_old(case: KitCase) -> Iterator[Hit]:
    """What the family knows is over a year old, so newer releases and withdrawals may be missing.

    Fine: a family file of a year ago to the day.
    Refused: none; one of thirteen months ago is noted.
    Looks at: the family's as_of, today's day.
    """
    as_of, today = case.asked.family.as_of, case.asked.today
    if today > _year_after(as_of):
        place = Evidence(case.asked.line("as_of"), "as_of", None, None, "within a year", as_of.isoformat())
        yield Hit(f"The family's knowledge is of {as_of.isoformat()}, over a year ago.", (place,))


def _year_after(day: date) -> date:
    """The same day a year later; the last of February where there is none such."""
    try:
        return day.replace(year=day.year + 1)
    except ValueError:
        return date(day.year + 1, 2, 28) if day.year < date.max.year else date.max


def never_ran(case: KitCase) -> Iterator[Hit]:
    """No card of the family has yet compared well by this route.

    Fine: one card's after-check compared well by it.
    Refused: none; the first kit of a route earns a caution, and one trial card.
    Looks at: the card book.
    """
    if not case.asked.route_ran:
        place = Evidence(case.asked.route_line("id"), "route", None, None, "a card that compared well", "none yet")
        yield Hit(f"No card has yet compared well by route {case.asked.route.id}.", (place,))


def not_taught(case: KitCase) -> Iterator[Hit]:
    """Rules that could not speak because the family lacks the facts they need.

    Fine: a family that teaches lowest versions, sizes, classes, sums, bounds and releases.
    Refused: none; what it does not teach is noted in one finding.
    Looks at: the family file.
    """
    lacking = untaught(case.asked)
    if lacking:
        evidence = tuple(
            Evidence(case.role_line(one.roles[0]), one.code, None, None, one.lacks, ", ".join(one.roles))
            for one in lacking
        )
        yield Hit(said_of_untaught(case), evidence)


def said_of_untaught(case: KitCase) -> str:
    """The one line that stands beside the verdict; "" where nothing is lacking."""
    lacking = untaught(case.asked)
    if not lacking:
        return ""
    parts = "; ".join(f"{one.lacks} ({one.code}: {', '.join(one.roles)})" for one in lacking)
    return f"The family does not teach, so these rules could not speak: {parts}."


def not_checked(case: KitCase) -> Iterator[Hit]:
    """Something is written by this route that its utility cannot read back.

    Fine: a route whose every write is checked.
    Refused: none; each thing in `unchecked` is named in a caution.
    Looks at: the route's unchecked.
    """
    unchecked = case.asked.route.unchecked
    if unchecked:
        line = case.asked.route_line("unchecked")
        evidence = tuple(Evidence(line, "unchecked", None, None, "read back", one) for one in unchecked)
        yield Hit(f"Written by this route, but not read back: {', '.join(unchecked)}.", evidence)


def family_unsettled(case: KitCase) -> Iterator[Hit]:
    """The family file is a draft, not accepted, or breaks a law; then nothing judged by it can be trusted.

    Fine: a shipped family; one that a person accepted and that is unchanged since.
    Refused: a route that destroys the address before it is learned.
    Looks at: the family file and its lines.
    """
    family = case.asked.family
    if family.settled and not family.problems:
        return
    if family.problems:
        shown = family.problems[:_MOST_SHOWN]
        evidence = tuple(Evidence(f"{one.file}:{one.line}", "law", None, None, "", one.text) for one in shown)
        yield Hit(f"The family file is not settled: {family.problems[0].text.rstrip('.')}.", evidence)
    else:
        place = Evidence(f"{family.file}:1", "settled", None, None, "accepted", f"SHA-256 {family.sha256}")
        remedy = "Read the file, check it against its maker's papers, and accept it."
        yield Hit("No person has accepted this family file as it stands.", (place,), remedy=remedy)


RULES: tuple[Rule[KitCase], ...] = (
    Rule(
        "never-ran", Weight.CAUTION, never_ran, "Never run yet",
        "Convert one trial card first, and compare it before the others.", "CP",
    ),
    Rule(
        "not-taught", Weight.NOTE, not_taught, "Not taught by the family",
        "Add what the maker's papers say to the family file.", "R USE.MFST.COMPONENT",
    ),
    Rule(
        "not-checked", Weight.CAUTION, not_checked, "Written, not read back",
        "Compare by other means after the route, as the maker's instructions say.", "CP",
    ),
    Rule(
        "family-unsettled", Weight.STOP, family_unsettled, "The family is not settled",
        "Mend the family file at these lines, check it and accept it.", "T MFST.MODIFICATION",
    ),
    Rule(
        "knowledge-old", Weight.NOTE, knowledge_old, "Old knowledge",
        "Look for newer releases and withdrawals, and renew the family file.", "TUF freeze",
    ),
)  # fmt: skip
