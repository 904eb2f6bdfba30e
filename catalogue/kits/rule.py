"""What a rule is: one function, one row, one code; its docstring is its manual."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Generic, TypeVar

from catalogue.shapes.finding import Evidence, Finding, Level

Case = TypeVar("Case")


class Weight(StrEnum):
    """The contract's letter for how much a rule's finding weighs."""

    STOP = "S"
    CLEARABLE = "s"
    CAUTION = "C"
    NOTE = "N"

    @property
    def level(self) -> Level:
        """The level of an uncleared finding of this weight."""
        return _LEVELS[self]


_LEVELS = {
    Weight.STOP: Level.STOP,
    Weight.CLEARABLE: Level.STOP,
    Weight.CAUTION: Level.CAUTION,
    Weight.NOTE: Level.NOTE,
}


@dataclass(slots=True)
class Hit:
    """One thing a rule found.

    `weight` where it differs from the rule's own (never heavier); `role`, `piece` where the rule looks at more than
    one; `remedy` where there is a better one than the rule's. Thousands are made for one kit, so it is not frozen.
    """

    text: str
    evidence: tuple[Evidence, ...]
    weight: Weight | None = None
    role: str | None = None
    piece: str | None = None
    remedy: str | None = None


@dataclass(frozen=True, slots=True)
class Rule(Generic[Case]):
    """One rule.

    `level` is the heaviest it can weigh. `check` yields a hit for each thing wrong and nothing where all is well; its
    docstring is the rule's manual, with a case that is fine and one that is refused. `source` is the contract's: T and
    R are the THREAT and REQ sections of RFC 9124, TUF its list of attacks, CP common practice, else a standard.
    `by_release`: it depends on the release that is tried. `among`: it looks at the other pieces that fit the role.
    """

    code: str
    level: Weight
    check: Callable[[Case], Iterable[Hit]]
    title: str
    remedy: str
    source: str
    by_release: bool = False
    among: bool = False

    @property
    def manual(self) -> str:
        """What the rule is for, with its cases."""
        return self.check.__doc__ or ""


def finding(rule: Rule[Case], hit: Hit, role: str | None, piece: str | None) -> Finding:
    """`hit` as a finding of `rule`, on `role` and `piece` where the hit names none itself."""
    heavy = hit.weight or rule.level
    return Finding(
        code=rule.code,
        level=heavy.level,
        text=hit.text,
        evidence=hit.evidence,
        remedy=hit.remedy or rule.remedy,
        clearable=heavy is Weight.CLEARABLE,
        role=hit.role or role,
        piece=hit.piece or piece,
    )


RULE_FAILED = "rule-failed"
"""Code of the stop that stands for a rule that could not be run; no rule of ours has it, and nothing clears it."""


def run(rule: Rule[Case], case: Case, role: str | None, piece: str | None) -> list[Finding]:
    """What `rule` finds. A rule that raises is itself a stop: what could not be checked is not proved."""
    try:
        return [finding(rule, hit, role, piece) for hit in rule.check(case)]
    except Exception as error:
        return [failed(rule.code, error, role, piece)]


def failed(what: str, error: Exception, role: str | None, piece: str | None) -> Finding:
    """The stop that stands for a check that could not be run."""
    return Finding(
        code=RULE_FAILED,
        level=Level.STOP,
        text=f"The check {what} could not be run, so nothing is proved by it.",
        evidence=(Evidence(place=piece or role or "the kit", field=what, have=f"{type(error).__name__}: {error}"),),
        remedy="This is a fault of the program: report it with this line. Do not write this kit.",
        role=role,
        piece=piece,
    )
