"""The table of rules that run on every near piece of a role, in the contract's order."""

from __future__ import annotations

from catalogue.kits import rules_bytes, rules_fit, rules_host, rules_signed, rules_time, rules_vouch
from catalogue.kits.case import Case
from catalogue.kits.rule import Rule

PIECE_RULES: tuple[Rule[Case], ...] = (
    *rules_bytes.RULES,
    *rules_fit.RULES,
    *rules_vouch.RULES,
    *rules_signed.RULES,
    *rules_time.RULES,
    *rules_host.RULES,
)
