"""A bounded, seeded sample of the fuzzing campaign, and every case it ever kept (python -m tests.fuzz.campaign)."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.fuzz import blind, cases, guided, promise, targets

TARGETS = targets.every()
SEED = 3
MOST = 200
SECONDS = 20
"""Inputs for a target: the same on a quick machine and on a slow one, unless so slow that time ends them first."""
GUIDED_RUNS, GUIDED_SECONDS = 1_500, 60
"""The same inputs every time, unless a machine is so slow that time ends them first."""
LEAST_EDGES = 1_000
"""What the samples alone reach is three times as much."""
KEPT = list(cases.every())


@pytest.mark.parametrize("name", TARGETS)
def test_damaged_seeds(name: str):
    """The same inputs every time."""
    tried, broken = blind.sample(TARGETS[name], SEED, MOST, SECONDS)
    assert tried
    assert not broken, [wrong for _, wrong in broken]


@pytest.mark.parametrize("name", TARGETS)
def test_seeds_themselves(name: str):
    seeds = TARGETS[name].seeds()
    assert seeds
    for data in seeds:
        assert promise.hold(TARGETS[name].run, data) is None


@pytest.mark.parametrize("case", KEPT, ids=lambda case: case.file)
def test_cases_once_found(case: cases.Case):
    """No kept case breaks the promise any more; each is of a target that there is."""
    assert promise.hold(TARGETS[case.target].run, case.data) is None, case.showed


def test_kept_cases_bear_the_name_of_their_bytes():
    assert {one.name for one in cases.FOUND.glob("*")} == {one.file for one in KEPT}


@pytest.mark.slow
@pytest.mark.skipif(not guided.able(), reason="PyPI atheris is not here (extra fuzz): damaged seeds alone are tried")
def test_by_coverage(tmp_path: Path):
    """A few seconds' worth of the whole table, guided by the coverage that inputs reach (PyPI atheris)."""
    call = [sys.executable, "-m", "tests.fuzz.guided", "table", str(tmp_path), str(GUIDED_SECONDS)]
    call.append(str(GUIDED_RUNS))
    done = subprocess.run(call, capture_output=True, text=True, timeout=200, check=False)
    assert "stat::number_of_executed_units" in done.stderr, done.stderr[-2000:]
    edges = [int(one) for one in re.findall(r"\bcov: (\d+)", done.stderr)]
    assert max(edges) > LEAST_EDGES, "the readers run without instruments"
    kept = [cases.load(one.read_text("ascii")) for one in (tmp_path / "broken").glob("*.txt")]
    true = [(one.showed, wrong) for one in kept if (wrong := promise.hold(TARGETS["table"].run, one.data))]
    assert not true
    assert not list((tmp_path / "ended").glob("*"))
