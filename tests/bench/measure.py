"""What one measure is, and how two commands are timed against each other.

A figure is a ratio on the same data in the same run: both sides take turns, the medians of at least five rounds after a
warm-up are compared. Each round is a whole process, from its start to its end.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
ROUNDS = 5


@dataclass(frozen=True)
class Line:
    """One line of the table. `reached` is None where there is nothing to reach."""

    measure: str
    ours: str
    against: str
    figure: str
    reach: str
    reached: bool | None


@dataclass(frozen=True)
class Measure:
    """One row: what is measured, and the work, which is given an empty folder and whether to keep it small."""

    name: str
    run: Callable[[Path, bool], list[Line]]


def kitproof(*arguments: str) -> list[str]:
    """Our own command, as a person starts it."""
    beside = Path(sys.executable).with_name("kitproof")
    start = [str(beside)] if beside.exists() else [sys.executable, "-c", "from ui.entry import main; main()"]
    return [*start, *arguments]


def seconds(command: Sequence[str] | str, *, cwd: Path | None = None) -> float:
    """How long one run takes. A text goes to the shell."""
    begun = time.perf_counter()
    subprocess.run(command, shell=isinstance(command, str), cwd=cwd, check=True, stdout=subprocess.DEVNULL, env=quiet())
    return time.perf_counter() - begun


def quiet() -> dict[str, str]:
    """The environment of a measured command: nothing drawn, no compiling while it runs."""
    return {**os.environ, "NO_COLOR": "1", "TERM": "dumb", "LC_ALL": "C.UTF-8"}


def turns(*sides: Callable[[], float], rounds: int = ROUNDS) -> list[float]:
    """The median of each side, which take turns after a warm-up of each."""
    taken: list[list[float]] = [[] for _ in sides]
    for round_ in range(rounds + 1):
        for side, times in zip(sides, taken, strict=True):
            spent = side()
            if round_:
                times.append(spent)
    return [statistics.median(times) for times in taken]


def fresh_index(folder: Path, catalogue: Path) -> float:
    """One indexing of a folder into a new catalogue."""
    for old in catalogue.parent.glob(catalogue.name + "*"):
        old.unlink()
    return seconds(kitproof("--catalogue", str(catalogue), "index", "--json", str(folder)))


def peak_megabytes(command: Sequence[str]) -> float:
    """The most memory one run holds at a time, in MB (the kernel's count of resident pages)."""
    code = (
        "import resource, subprocess, sys\n"
        "subprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL)\n"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
    )
    told = subprocess.run(
        [sys.executable, "-c", code, *command], capture_output=True, text=True, check=True, env=quiet()
    )
    unit = 1 if sys.platform == "darwin" else 1024
    return int(told.stdout.split()[-1]) * unit / 1e6


def ratio_line(
    measure: str, against: str, ours: float, theirs: float, *, at_least: float = 0, at_most: float = 0
) -> Line:
    """A line that says how many times faster (`at_least`) or slower (`at_most`) we are."""
    if at_least:
        figure, reach, good = theirs / ours, f"at least {at_least:g} times faster", theirs / ours >= at_least
        said = f"{figure:.2f} times faster"
    else:
        figure, reach, good = ours / theirs, f"at most {at_most:g} times its time", ours / theirs <= at_most
        said = f"{figure:.2f} times its time"
    return Line(measure, f"{ours:.2f} s", f"{against} {theirs:.2f} s", said, reach, good)
