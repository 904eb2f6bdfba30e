"""Which two archives are unrelated: properties of archives made from one another."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from catalogue.store.agreed import Look, unrelated
from tests.store.test_evidence import FW, Bench, sha, zipped
from tests.store.test_inheritance import MADE

contents = st.frozensets(st.integers(1, 30), min_size=1, max_size=20)


@given(contents, contents)
def test_it_goes_both_ways(one: frozenset[int], other: frozenset[int]) -> None:
    assert unrelated(Look(one), Look(other)) == unrelated(Look(other), Look(one))


@given(contents, st.data())
def test_whoever_keeps_most_of_a_download_is_related_to_it(whole: frozenset[int], data: st.DataObject) -> None:
    """Take some out, put fewer in than were kept: still the same download."""
    kept = data.draw(st.sets(st.sampled_from(sorted(whole)), min_size=len(whole) // 2 + 1))
    put_in = data.draw(st.sets(st.integers(100, 130), max_size=len(kept) - 1))
    assert not unrelated(Look(whole), Look(frozenset(kept | put_in)))


@given(contents, contents)
def test_whoever_brings_as_much_of_its_own_is_not(shared: frozenset[int], more: frozenset[int]) -> None:
    one = shared | {100 + n for n in range(len(shared))}
    other = shared | {200 + n for n in range(len(shared))} | {300 + n for n in more}
    assert unrelated(Look(one), Look(other))
    assert not unrelated(Look(one, frozenset({"page"})), Look(other, frozenset({"page", "x"})))
    assert not unrelated(Look(one, within=frozenset({7, 9})), Look(other, within=frozenset({8, 9})))


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    st.integers(1, 4), st.integers(0, 3), st.integers(0, 2), st.sampled_from(sorted(MADE)), st.booleans(), st.booleans()
)
def test_no_copy_of_one_download_agrees_with_it(
    tmp_path_factory: pytest.TempPathFactory,
    others: int, taken_out: int, put_in: int, how: str, nested: bool, beside: bool,
) -> None:  # fmt: skip
    """Packed again another way, renamed, unpacked beside it, packed once more, with a little out and a little in."""
    made = Bench(Path(tmp_path_factory.mktemp("bench")))
    members = {"fw.bin": FW, **{f"m{n}.bin": b"member %d \0" % n * 40 for n in range(others)}}
    kept = dict(list(members.items())[: max(len(members) - taken_out, len(members) // 2 + 1)])
    again = {f"x/{name}": data for name, data in kept.items()}
    if how not in ("zip", "tar", "tar.gz", "tar.xz", "tar.bz2", "tar.zst"):
        again = kept  # those builders lay no folders
    for n in range(min(put_in, len(kept) - 1)):
        again[f"new{n}.txt"] = b"put in %d\n" % n * 30
    copy = MADE[how](again)
    files = {"a.zip": zipped(members), f"copy.{how}": zipped({"in": copy, "z": b"z\n"}) if nested else copy}
    if beside:
        files |= {f"a/{name}": data for name, data in members.items()}
    made.put(files)
    assert [one.rung for one in made.facts(FW).vouches if one.rung == "agreed"] == [], sha(FW)
