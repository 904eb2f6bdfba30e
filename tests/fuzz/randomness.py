"""Try for as long as one likes whether random bytes are called a ROM, an EEPROM image or a program.

`python -m tests.fuzz.randomness [SECONDS] [SEED]`: counts what was tried and what was called so, by the way the bytes
were made. Behind a magic some fall by chance: the share is printed, and the bytes of the first ones.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter

from tests.contracts import randomness

_BATCH = 2_000


def main() -> None:
    """Print a line a minute and the sum at the end; exit 1 if plain random bytes were called anything."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    seed = sys.argv[2] if len(sys.argv) > 2 else "1"
    tried: Counter[str] = Counter()
    called: Counter[tuple[str, str]] = Counter()
    ways = {"plain": randomness.plain, "behind a magic": randomness.behind_magics, "shuffled": randomness.shuffled}
    end, told, number = time.monotonic() + seconds, time.monotonic() + 60, 0
    while time.monotonic() < end:
        number += 1
        for name, way in ways.items():
            for data in way(random.Random(f"{seed} {number} {name}"), _BATCH):
                tried[name] += 1
                kind = randomness.claimed(data)
                if kind and not (name == "shuffled" and data.startswith(randomness.MAGICS)):
                    called[name, kind] += 1
                    if called[name, kind] <= 3:
                        print(f"{name}: {kind}, {len(data)} bytes: {data[:48].hex()}", flush=True)
        if time.monotonic() > told:
            told += 60
            print(dict(tried), flush=True)
    for name, count in tried.items():
        said = {kind: n for (way, kind), n in called.items() if way == name}
        print(f"{name}: {count} tried, called {said or 'nothing'}")
    sys.exit(1 if any(way == "plain" for way, _ in called) else 0)


if __name__ == "__main__":
    main()
