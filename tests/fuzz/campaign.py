"""Fuzz every target for hours: `python -m tests.fuzz.campaign --hours 3 --jobs 2 [--only WORD …]`.

Each target gets its slice of the time, in a process of its own that is watched for time and memory, again and again
until the hours are over. Coverage-guided where PyPI `atheris` is installed (extra `fuzz`), by damaged seeds elsewhere.
What breaks the promise (tests/fuzz/promise.py) is made small and kept in tests/fuzz/found; each test run tries that.
"""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from tests.fuzz import cases, guided, targets

SLICE = 300
"""Seconds that one process fuzzes at most."""
LEAST = 10
GRACE = 600
"""Seconds beyond its slice after which a process that does not end is ended."""
_TRIED = re.compile(r"stat::number_of_executed_units:\s*(\d+)")
_COVERED = re.compile(r"\bcov: (\d+) ft: (\d+) corp: (\d+)")
_SIGNS = ("broken", "ended")


def fuzz(name: str, folder: Path, seconds: int, seed: int, found: Path) -> tuple[int, str]:
    """One slice for one target: how many inputs were tried, and what there is to say of it."""
    if guided.able():
        call = ["tests.fuzz.guided", name, str(folder), str(seconds)]
    else:
        call = ["tests.fuzz.blind", name, str(folder), str(seconds), str(seed)]
    folder.mkdir(parents=True, exist_ok=True)
    log = folder / "last.log"
    with log.open("wb") as out:
        try:
            ended = subprocess.run(
                [sys.executable, "-m", *call], stdout=out, stderr=out, timeout=seconds + GRACE, check=False
            ).returncode
        except subprocess.TimeoutExpired:
            ended = -1
    told = log.read_text("utf-8", "replace")
    tried = sum(int(one) for one in _TRIED.findall(told)[-1:])
    covered = _COVERED.findall(told)
    said = f"edges {covered[-1][0]}, features {covered[-1][1]}, corpus {covered[-1][2]}" if covered else ""
    if not tried:
        said += f" (no count; the process ended with {ended}: see {log})"
    if any(path for part in _SIGNS for path in (folder / part).glob("*")):
        confirmed = subprocess.run(
            [sys.executable, "-m", "tests.fuzz.confirm", name, str(folder), str(found)],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        said += (
            f"\n{confirmed.stdout or '  nothing that it found was true without instruments'}{confirmed.stderr[-2000:]}"
        )
    return tried, said


def slices(names: list[str], seconds: float, jobs: int) -> Iterator[tuple[str, int, int]]:
    """Targets in turn with the seconds each may have and the number of the round, until all seconds are given away."""
    each = int(max(LEAST, min(SLICE, seconds * jobs / len(names))))
    left = seconds * jobs
    turn = 0
    while left >= each:
        for name in names:
            if left < each:
                return
            left -= each
            yield name, each, turn
        turn += 1


def chosen(words: Iterable[str]) -> list[str]:
    """The names of the targets that hold one of the words; all without words."""
    words = list(words)
    return [name for name in targets.every() if not words or any(word in name for word in words)]


def main() -> int:
    """Exit code 1 where something was found."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz.campaign", description=__doc__)
    parser.add_argument("--hours", type=float, default=3.0, help="how long (default: 3)")
    parser.add_argument("--jobs", type=int, default=max(1, (os.cpu_count() or 2) // 2), help="processes at a time")
    parser.add_argument("--only", nargs="*", default=[], metavar="WORD", help="targets whose name holds a word")
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "kitproof-fuzz", help="its work")
    given = parser.parse_args()
    names = chosen(given.only)
    if not names:
        parser.error("no target's name holds that; they are: " + ", ".join(targets.every()))
    before = {one.name for one in cases.FOUND.glob("*.txt")}
    print("coverage-guided" if guided.able() else "by damaged seeds alone (PyPI atheris is not installed)", flush=True)
    total: Counter[str] = Counter()
    started = time.monotonic()

    def one(slice_: tuple[str, int, int]) -> None:
        name, seconds, turn = slice_
        tried, said = fuzz(name, given.folder / name.replace(" ", "-"), seconds, turn, cases.FOUND)
        total[name] += tried
        print(
            f"{(time.monotonic() - started) / 60:6.1f} min  {name}: {tried:,} inputs in {seconds} s; {said}", flush=True
        )

    with ThreadPoolExecutor(given.jobs) as pool:
        for done in [pool.submit(one, each) for each in slices(names, given.hours * 3600, given.jobs)]:
            done.result()
    new = sorted({one.name for one in cases.FOUND.glob("*.txt")} - before)
    print(f"\n{sum(total.values()):,} inputs: " + ", ".join(f"{name} {count:,}" for name, count in total.items()))
    print(f"{len(new)} new cases in {cases.FOUND}" + "".join(f"\n  {one}" for one in new))
    return 1 if new else 0


if __name__ == "__main__":
    sys.exit(main())
