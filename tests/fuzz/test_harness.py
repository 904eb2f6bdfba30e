"""The harness itself: targets that break the promise are caught, made small and kept."""

from __future__ import annotations

import itertools
import random
import re
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue import formats
from catalogue.intake import containers
from tests.fuzz import blind, campaign, cases, confirm, guided, minimise, mutate, promise, targets
from tests.fuzz.target import Target


def fails(data: bytes) -> None:
    if b"\xff\xff" in data and len(data) > 3:
        raise IndexError("a count was believed")


def hangs(data: bytes) -> None:
    while b"H" in data:
        pass


def backtracks(data: bytes) -> None:
    re.match(r"(a|aa)+$", "a" * 60 + "b")


def grows(data: bytes) -> None:
    bytearray(b"\1") * (promise.MEMORY + (40 << 20))


def swallows(data: bytes) -> None:
    while True:
        try:
            hangs(b"H")
        except Exception:
            continue


def test_every_reader_and_container_is_a_target():
    names = set(targets.every())
    assert {f"reader {row.name}" for row in formats.READERS} <= names
    assert {f"opened {kind.removeprefix('archive/')}" for kind in containers.CONTAINERS} <= names
    assert len(names) > len(formats.READERS) + len(containers.CONTAINERS)


@pytest.mark.parametrize(
    ("run", "mark"),
    [(fails, "IndexError"), (hangs, "hang"), (backtracks, "hang"), (swallows, "hang"), (grows, "memory")],
)
def test_a_broken_promise_is_caught(run: Callable[[bytes], object], mark: str, monkeypatch: pytest.MonkeyPatch):
    if mark == "hang":
        monkeypatch.setattr(promise, "SECONDS_A_MIB", 0.1)
    if mark == "memory" and not Path("/proc/self/clear_refs").exists():
        pytest.skip("this system does not tell the most memory that a process held")
    if mark == "hang" and sys.platform == "win32":
        pytest.skip("this system has no timer of processor time")
    wrong = promise.hold(run, b"H\xff\xff!")
    assert wrong is not None
    assert wrong.mark.startswith(mark)


def test_what_is_slow_is_caught(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(promise, "SECONDS_A_MIB", 0.02)

    def slow(data: bytes) -> None:
        end = time.process_time() + 0.05
        while time.process_time() < end:
            pass

    wrong = promise.hold(slow, b"")
    assert wrong is not None
    assert wrong.mark == "slow"


def test_a_kept_promise_is_not():
    assert promise.hold(fails, b"\xff\xfe") is None


def test_a_container_that_intake_guards_is_seen_through(monkeypatch: pytest.MonkeyPatch):
    """What a guard of intake would turn into a fault breaks the promise all the same."""
    zipped = targets.every()["opened zip"]

    def broken(self: object, entry: object) -> None:
        raise KeyError("a bug of ours")

    monkeypatch.setattr("catalogue.intake.containers.zip_members.ZipMembers.chunks", broken)
    wrong = promise.hold(zipped.run, zipped.seeds()[0])
    assert wrong is not None
    assert wrong.mark.startswith("KeyError")


def test_damaged_seeds_are_the_same_every_time_and_differ():
    seeds = [bytes(range(200)), b"PK" * 40, b""]
    first, again = (list(itertools.islice(mutate.damaged(seeds, random.Random(1)), 500)) for _ in range(2))
    assert first == again
    assert len(set(first)) > 450
    assert all(len(one) <= mutate.MOST for one in first)


def test_a_planted_fault_is_found_made_small_and_kept(tmp_path: Path):
    target = Target("planted", fails, lambda: [bytes(400)])
    tried, broken = blind.sample(target, 1, 5_000, 60)
    assert tried == 5_000
    assert broken
    (case,) = confirm.confirmed(target, [data for data, _ in broken], 20)
    assert len(case.data) == 4
    assert case.data.count(b"\xff") == 2
    path = cases.keep(case, tmp_path)
    assert list(cases.every(tmp_path)) == [case]
    assert "IndexError" in path.read_text("ascii")


@given(
    st.binary(max_size=3_000), st.text(st.characters(min_codepoint=32, max_codepoint=126), min_size=1).map(str.strip)
)
def test_a_case_comes_back_from_its_file(data: bytes, showed: str):
    case = cases.Case("reader vpd", " ".join(showed.split()) or "x", data)
    assert cases.load(cases.text(case)) == case


def test_a_file_that_is_no_case_is_refused():
    with pytest.raises(ValueError, match="names its target"):
        cases.load("AAAA\n")


def test_minimising_keeps_what_matters():
    data = bytes(300) + b"key" + bytes(range(1, 200))
    assert minimise.smaller(data, lambda tried: b"key" in tried, 20) == b"key"


def test_slices_give_each_target_its_turn():
    got = list(campaign.slices(["a", "b"], 100, 1))
    assert got == [("a", 50, 0), ("b", 50, 0)]
    long = list(campaign.slices(["a", "b"], 3 * 3600, 2))
    assert sum(seconds for _, seconds, _ in long) <= 6 * 3600
    assert {name for name, _, _ in long} == {"a", "b"}
    assert {turn for *_, turn in long} == set(range(36))


def test_a_campaign_in_short(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(guided, "able", lambda: False)
    tried, said = campaign.fuzz("sums of a kit", tmp_path / "work", 1, 0, tmp_path / "found")
    assert tried > 100
    assert "kept" not in said


def test_a_campaign_keeps_what_is_true(tmp_path: Path):
    """What lies in broken without being true is dropped."""
    cases.keep(cases.Case("sums of a kit", "not so", b"x"), tmp_path / "broken")
    (tmp_path / "ended").mkdir()
    (tmp_path / "ended" / "oom-1").write_bytes(b"y")
    confirm.main("sums of a kit", tmp_path, tmp_path / "found")
    assert not [path for part in ("broken", "ended", "found") for path in (tmp_path / part).glob("*")]
