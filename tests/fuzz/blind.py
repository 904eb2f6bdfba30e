"""One process that fuzzes one target with damaged seeds alone, where the coverage-guided library is not to be had.

`python -m tests.fuzz.blind TARGET FOLDER SECONDS SEED`; the campaign starts it. What breaks the promise is written to
FOLDER/broken.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter
from itertools import islice
from pathlib import Path

from tests.fuzz import cases, mutate, promise, targets
from tests.fuzz.target import Target

A_MARK = 3


def sample(target: Target, seed: int, count: int, seconds: float) -> tuple[int, list[tuple[bytes, promise.Broken]]]:
    """Try damaged seeds until `count` or `seconds` are reached; how many were tried, and what broke the promise."""
    chance = random.Random(f"{target.name} {seed}")
    broken: list[tuple[bytes, promise.Broken]] = []
    marks: Counter[str] = Counter()
    end = time.monotonic() + seconds
    tried = 0
    for data in islice(mutate.damaged(target.seeds(), chance), count):
        tried += 1
        wrong = promise.hold(target.run, data)
        if wrong is not None:
            marks[wrong.mark] += 1
            if marks[wrong.mark] <= A_MARK:
                broken.append((data, wrong))
        if time.monotonic() > end:
            break
    return tried, broken


def main(name: str, folder: Path, seconds: int, seed: int) -> None:
    """Fuzz one target and write down what was found."""
    tried, broken = sample(targets.every(real_too=True)[name], seed, sys.maxsize, seconds)
    for data, wrong in broken:
        cases.keep(cases.Case(name, wrong.text, data), folder / "broken")
    print(f"stat::number_of_executed_units: {tried}")


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4]))
