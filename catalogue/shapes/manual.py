"""The manual of one rule, as it is printed and shown beside a finding."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RuleManual:
    """What one rule is about, in words.

    `level` is the heaviest it can weigh. `catches` is one sentence, `more` what else must be known ("" for nothing).
    `fine` is a case that it must leave alone; `cases` are those it speaks of, each with its label (Refused, Caution,
    …). `looks_at` is its evidence.
    """

    code: str
    level: str
    clearable: bool
    title: str
    catches: str
    more: str
    fine: str
    cases: tuple[tuple[str, str], ...]
    looks_at: str
    remedy: str
    source: str
