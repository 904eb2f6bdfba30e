"""Each rule switched off in turn: `python -m tests.campaign.without_rules [--seed 5] [--each 24]`.

With its rule gone, some mutant of a class must no longer raise the code it names, else rule or mutant is idle. Prints
how many of them came out ready: where none did, a second barrier holds (`catalogue.kits.earned`, or another rule).
Mutants are taken that a recorded source names or that are not written, since `unvouched` stops all others.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from catalogue.kits import kit_rules, piece_rules
from tests.campaign import run
from tests.campaign.court import plant
from tests.campaign.mutant import Outcome, Recipe

BY_LACK = ("unvouched", "same-version-two-contents")
"""Codes that bytes earn only where no source names them."""


def by_code(seed: int, most: int = 9_000) -> dict[str, list[Recipe]]:
    """Code to recipes whose class names it first, loose or in a zip."""
    found: dict[str, list[Recipe]] = {}
    for one in run.recipes(most, seed):
        planted = plant(one) if one.container in ("plain", "zip") else None
        if planted is None or not planted.want:
            continue
        code = planted.want[0]
        if (one.named or one.role == "writer") != (code in BY_LACK):
            found.setdefault(code, []).append(one)
    return found


@contextmanager
def without(code: str) -> Iterator[None]:
    """The rules of both tables, but for one."""
    pieces, kits = piece_rules.PIECE_RULES, kit_rules.KIT_RULES
    piece_rules.PIECE_RULES = tuple(one for one in pieces if one.code != code)
    kit_rules.KIT_RULES = tuple(one for one in kits if one.code != code)
    try:
        yield
    finally:
        piece_rules.PIECE_RULES, kit_rules.KIT_RULES = pieces, kits


def tried(code: str, some: list[Recipe], most: int) -> list[Outcome]:
    """What comes of `most` of the recipes while the rule is off."""
    some = sorted(some, key=lambda one: (one.fault, one.role, one.ground))
    some = random.Random(0).sample(some, min(most, len(some)))
    with without(code):
        return list(run.judged(some, 1))


def main() -> int:
    """Exit code 1 where a rule is off and every mutant still raises its code."""
    parser = argparse.ArgumentParser(prog="python -m tests.campaign.without_rules", description=__doc__)
    parser.add_argument("--seed", type=int, default=5, help="draws the mutants (default: 5)")
    parser.add_argument("--each", type=int, default=24, help="mutants for each rule (default: 24)")
    given = parser.parse_args()
    idle = 0
    found = by_code(given.seed)
    for code, some in sorted(found.items()):
        outcomes = tried(code, some, given.each)
        missed = sum(code not in one.codes for one in outcomes)
        idle += not missed
        ready = sum(one.ready for one in outcomes)
        print(f"{code:28}{len(outcomes):4} mutants, {missed:3} without the code, {ready:3} came out ready", flush=True)
    left = {one.code for one in (*piece_rules.PIECE_RULES, *kit_rules.KIT_RULES)} - found.keys()
    print(f"no class here, each switched off in tests/kits/test_mutants.py instead: {', '.join(sorted(left))}")
    return 1 if idle else 0


if __name__ == "__main__":
    sys.exit(main())
