"""The manual of the rules: all of them by the tables they stand in, or one by its code."""

from __future__ import annotations

from catalogue.errors import BadCall
from catalogue.kits.kit_rules import KIT_RULES
from catalogue.kits.manual import manual_of
from catalogue.kits.piece_rules import PIECE_RULES
from catalogue.media.target_rules import TARGET_RULES
from catalogue.shapes.manual import RuleManual


def tables() -> tuple[tuple[str, tuple[RuleManual, ...]], ...]:
    """The tables by name, each with its rules in the order in which findings are told."""
    return (
        ("The pieces", tuple(manual_of(rule) for rule in PIECE_RULES)),
        ("The kit as a whole", tuple(manual_of(rule) for rule in KIT_RULES)),
        ("The medium", tuple(manual_of(rule) for rule in TARGET_RULES)),
    )


def run(codes: tuple[str, ...] = ()) -> tuple[RuleManual, ...]:
    """The rules of these codes, all where none is named. Raises BadCall for one that no rule has."""
    known = {one.code: one for _name, rules in tables() for one in rules}
    for code in codes:
        if code not in known:
            raise BadCall(f"No rule has the code {code}. `kitproof rules` lists them all.")
    return tuple(known[code] for code in codes) if codes else tuple(known.values())
