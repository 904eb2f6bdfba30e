"""Index 50,000 small files, 200 MB: new against `sha256sum` and `file`, unchanged against `find`."""

from __future__ import annotations

import random
from pathlib import Path

from tests.bench.measure import Line, Measure, fresh_index, kitproof, ratio_line, seconds, turns

NAME = "index 50,000 small files, 200 MB"


def lay(folder: Path, files: int) -> None:
    """Files of 4 KB in folders of a hundred; bytes of no known format, one in ten a text."""
    chance = random.Random(2)
    for number in range(files):
        home = folder / f"{number // 100:03}"
        home.mkdir(parents=True, exist_ok=True)
        text = f"Notes on piece {number}, nothing to see.\n" * 100
        (home / f"{number % 100:02}.bin").write_bytes(text.encode() if number % 10 == 0 else chance.randbytes(4096))


def run(folder: Path, small: bool) -> list[Line]:
    """Lay the files and time all of them."""
    data = folder / "data"
    lay(data, 5_000 if small else 50_000)
    names = f"find '{data}' -type f -print0 | xargs -0"
    ours, coreutils = turns(lambda: fresh_index(data, folder / "c.sqlite"), lambda: seconds(f"{names} sha256sum"))
    (kinds,) = turns(lambda: seconds(f"{names} file"), rounds=1)
    again = kitproof("--catalogue", str(folder / "c.sqlite"), "index", "--json", str(data))
    unchanged, find = turns(lambda: seconds(again), lambda: seconds(["find", str(data), "-printf", "%s %T@ %p\n"]))
    under = Line(
        "index again, nothing changed", f"{unchanged:.2f} s", "-", f"{unchanged:.2f} s", "under 1 s", unchanged < 1
    )
    return [
        ratio_line(NAME, "sha256sum", ours, coreutils, at_most=1),
        ratio_line(NAME, "file and sha256sum", ours, kinds + coreutils, at_least=10),
        ratio_line("index again, nothing changed", "find -printf", unchanged, find, at_most=5),
        under,
    ]


MEASURE = Measure(NAME, run)
