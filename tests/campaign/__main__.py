"""The campaign of judging: `python -m tests.campaign [--mutants 20000] [--seed 1] [--jobs 2] [--only WORD …]`.

Real bytes with one fault each are laid in a folder, indexed and judged; each must raise the code its class names.
Prints what came out ready first, then what raised other codes only, then the counts; exit code 1 where there was any.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections import Counter

from tests.campaign import run
from tests.campaign.mutant import Outcome

SHOWN = 60
"""Misses printed in full."""


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.campaign", description=__doc__)
    parser.add_argument("--mutants", type=int, default=20_000, help="how many (default: 20000)")
    parser.add_argument("--seed", type=int, default=1, help="draws the mutants (default: 1)")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes at a time")
    parser.add_argument("--minutes", type=float, default=0, help="stop after so long (default: when all are judged)")
    parser.add_argument("--only", nargs="*", default=[], metavar="WORD", help="recipes that hold one of the words")
    given = parser.parse_args()
    every = run.recipes(given.mutants, given.seed)
    chosen = [one for one in every if not given.only or any(word in str(one) for word in given.only)]
    started, done = time.monotonic(), []
    done.extend(run.judged(chosen, given.jobs, given.minutes * 60))
    ready = [one for one in done if one.ready]
    missed = [one for one in done if not one.ready and not one.hit]
    _show("CAME OUT READY", ready)
    _show("another stop only", missed)
    print(run.table(done))
    print(f"{len(done):,} mutants in {time.monotonic() - started:.0f} s, drawn by {given.seed}")
    return 1 if ready or missed else 0


def _show(what: str, outcomes: list[Outcome]) -> None:
    alike = Counter((one.recipe.fault, one.recipe.role, one.want, one.codes) for one in outcomes)
    seen: set[object] = set()
    for one in outcomes[:]:
        key = (one.recipe.fault, one.recipe.role, one.want, one.codes)
        if key not in seen and len(seen) < SHOWN:
            seen.add(key)
            print(f"{what} ({alike[key]} alike): {one.recipe} ({one.note}): "
                  f"wanted {' or '.join(one.want)}, raised {', '.join(one.codes) or 'nothing'}")  # fmt: skip


if __name__ == "__main__":
    sys.exit(main())
