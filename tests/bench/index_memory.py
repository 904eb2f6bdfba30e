"""The most memory that indexing holds, whatever it meets."""

from __future__ import annotations

import os
import zipfile
from pathlib import Path

from tests.bench.measure import Line, Measure, kitproof, peak_megabytes

NAME = "memory while indexing"
REACH = 300


def run(folder: Path, small: bool) -> list[Line]:
    """One very long file, archives with the longest members that are read, archives in archives, many short files."""
    lines: list[Line] = []
    for what, lay in (("a sparse file of 20 GB", _long), ("archives", _archives), ("20,000 files", _many)):
        data = folder / what.replace(" ", "-")
        data.mkdir()
        lay(data, small)
        command = kitproof("--catalogue", str(folder / f"{data.name}.sqlite"), "index", "--json", str(data))
        peak = peak_megabytes(command)
        lines.append(
            Line(f"{NAME}: {what}", f"{peak:.0f} MB", "-", f"{peak:.0f} MB", f"under {REACH} MB", peak < REACH)
        )
    return lines


def _long(data: Path, small: bool) -> None:
    with (data / "long.bin").open("wb") as file:
        file.truncate((2 if small else 20) << 30)


def _archives(data: Path, small: bool) -> None:
    size = (16 if small else 63) << 20
    for number in range(3):
        with zipfile.ZipFile(data / f"{number}.zip", "w", zipfile.ZIP_DEFLATED, compresslevel=1) as made:
            made.writestr("fw.bin", os.urandom(size))
        outer = data / f"outer{number}.zip"
        with zipfile.ZipFile(outer, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as made:
            made.write(data / f"{number}.zip", "inner.zip")


def _many(data: Path, small: bool) -> None:
    for number in range(2_000 if small else 20_000):
        home = data / str(number // 200)
        home.mkdir(exist_ok=True)
        (home / str(number)).write_bytes(b"Piece %d of many, release 1.%d.3\n" % (number, number) * 30)


MEASURE = Measure(NAME, run)
