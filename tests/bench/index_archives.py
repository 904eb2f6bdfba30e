"""Index 200 zip archives, 2 GB unpacked, against `unzip -p` piped to `sha256sum`."""

from __future__ import annotations

import random
import zipfile
from pathlib import Path

from tests.bench.measure import Line, Measure, fresh_index, ratio_line, seconds, turns

NAME = "index 200 zip archives, 2 GB unpacked"


def lay(folder: Path, archives: int, each: int) -> None:
    """Archives of five members of words and bytes, so that they pack to about half."""
    folder.mkdir(parents=True)
    chance = random.Random(3)
    for number in range(archives):
        with zipfile.ZipFile(folder / f"{number:03}.zip", "w", zipfile.ZIP_DEFLATED, compresslevel=4) as made:
            for inner in range(5):
                part = b"".join(chance.randbytes(2048) + b"%d words that pack well " % number * 85 for _ in range(64))
                made.writestr(f"rom/{inner}.bin", bytes([inner]) + part * (each // 5 // len(part)))


def run(folder: Path, small: bool) -> list[Line]:
    """Lay the archives and time both."""
    data = folder / "data"
    lay(data, 20 if small else 200, 10_000_000)
    ours, theirs = turns(
        lambda: fresh_index(data, folder / "c.sqlite"),
        lambda: seconds(f"for one in '{data}'/*.zip; do unzip -p \"$one\" | sha256sum; done"),
    )
    return [ratio_line(NAME, "unzip -p | sha256sum", ours, theirs, at_least=1.5)]


MEASURE = Measure(NAME, run)
