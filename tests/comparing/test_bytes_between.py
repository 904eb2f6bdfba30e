"""Ranges of bytes that differ, against a naive walk, Debian's cmp and Python's difflib."""

from __future__ import annotations

import difflib
import subprocess
import time
from itertools import pairwise
from random import Random

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from catalogue.comparing import bytes_between
from catalogue.comparing.bounds import LEAST_GAP, MAX_RANGES
from catalogue.comparing.bytes_between import Changed, Found, Stretch, between
from catalogue.formats.view import BytesView
from tests.reference import debian

few = st.integers(0, 3).map(lambda byte: bytes([byte]))
short = st.lists(few, max_size=200).map(b"".join)


def found_in(a: bytes, b: bytes) -> Found:
    return between(BytesView(a), BytesView(b))


def turned(found: Found) -> list[Stretch]:
    return [Stretch(one.b_offset, one.b_length, one.a_offset, one.a_length) for one in found.stretches]


def rebuilt(a: bytes, b: bytes, stretches: tuple[Stretch, ...]) -> bytes:
    """B made from A and the stretches alone: what no stretch names must be equal in both."""
    made = b""
    at = 0
    for one in stretches:
        made += a[at : one.a_offset]
        assert len(made) == one.b_offset
        made += b[one.b_offset : one.b_offset + one.b_length]
        at = one.a_offset + one.a_length
    return made + a[at:]


@given(short, short)
@example(b"", b"x")
@example(b"ab" * 9, b"ab" * 10)
def test_b_is_rebuilt_from_a_and_what_differs(a: bytes, b: bytes) -> None:
    found = found_in(a, b)
    assert rebuilt(a, b, found.stretches) == b
    for one in found.stretches:
        assert a[one.a_offset : one.a_offset + one.a_length] != b[one.b_offset : one.b_offset + one.b_length]
    assert (found.differing == 0) == (a == b)


@given(short, short)
def test_the_other_way_round_it_is_the_same(a: bytes, b: bytes) -> None:
    there, back = found_in(a, b), found_in(b, a)
    assert turned(there) == list(back.stretches)
    assert there.differing == back.differing


@given(short)
def test_a_content_does_not_differ_from_itself(a: bytes) -> None:
    assert found_in(a, a) == Found((), 0, LEAST_GAP)


@given(st.data(), short)
def test_of_one_length_it_finds_what_a_walk_finds(data: st.DataObject, a: bytes) -> None:
    b = bytearray(a)
    for at in data.draw(st.sets(st.integers(0, max(0, len(a) - 1)), max_size=12)) if a else ():
        b[at] ^= 0x40
    differ = [at for at, (one, other) in enumerate(zip(a, b, strict=True)) if one != other]
    found = found_in(a, bytes(b))
    assert found.differing == len(differ)
    covered = [(one.a_offset, one.a_offset + one.a_length) for one in found.stretches]
    assert all(any(start <= at < end for start, end in covered) for at in differ)
    assert all(start in differ and end - 1 in differ for start, end in covered)
    assert all(after[0] - before[1] >= LEAST_GAP for before, after in pairwise(covered))


@settings(max_examples=60)
@given(st.integers(0, 9), st.integers(0, 20_000), st.integers(1, 9_000), st.sets(st.integers(0, 19_999), max_size=3))
def test_bytes_put_in_are_found_where_they_were_put_in(seed: int, at: int, count: int, edits: set[int]) -> None:
    """One insertion and a few changed bytes: the insertion's point is exact but for bytes that agree by chance."""
    random = Random(seed)
    a = random.randbytes(20_000)
    b = bytearray(a)
    for where in edits:
        b[where] ^= 0xFF
    b[at:at] = random.randbytes(count)
    found = found_in(a, bytes(b))
    assert rebuilt(a, bytes(b), found.stretches) == bytes(b)
    put_in = [one for one in found.stretches if one.b_length - one.a_length]
    assert [one.b_length - one.a_length for one in put_in] == [count]
    near_edge = any(abs(where - at) < 2 * bytes_between.BLOCK for where in edits)
    near_end = min(at, 20_000 - at) < bytes_between.BLOCK
    if not near_edge and not near_end:
        assert abs(put_in[0].a_offset - at) < 8
        assert found.differing == count + len(edits)


@pytest.mark.outside
def test_it_agrees_with_cmp(tmp_path) -> None:  # type: ignore[no-untyped-def]
    """`cmp -l` of Debian's diffutils lists each differing byte, counted from 1, values in octal."""
    program = debian.program("diffutils", "usr/bin/cmp")
    a = bytearray(b"Saltmarsh" * 40_000)
    b = bytearray(a)
    for at in (0, 1, 2, 77, 1_000, 1_003, 1_008, 131_071, 131_072, 262_143, len(b) - 1):
        b[at] ^= at % 251 + 1
    (tmp_path / "a").write_bytes(a)
    (tmp_path / "b").write_bytes(b)
    told = subprocess.run(
        [program, "-l", str(tmp_path / "a"), str(tmp_path / "b")], capture_output=True, text=True, check=False
    ).stdout.split("\n")
    listed = [(int(at) - 1, int(one, 8), int(other, 8)) for at, one, other in map(str.split, filter(None, told))]
    found = found_in(bytes(a), bytes(b))
    ours = [
        (at, a[at], b[at])
        for one in found.stretches
        for at in range(one.a_offset, one.a_offset + one.a_length)
        if a[at] != b[at]
    ]
    assert ours == listed
    assert found.differing == len(listed)


@settings(max_examples=60)
@given(short, st.integers(0, 200), short)
def test_for_one_change_it_tells_no_more_than_difflib(a: bytes, at: int, new: bytes) -> None:
    """Python's difflib, without its heuristics, finds what is equal around one replaced stretch. Ours may not tell
    more bytes than lie between the first and the last difference that it sees.
    """
    b = a[:at] + new + a[at + 3 :]
    codes = [one for one in difflib.SequenceMatcher(None, a, b, autojunk=False).get_opcodes() if one[0] != "equal"]
    found = found_in(a, b)
    assert bool(codes) == bool(found.stretches)
    if codes and len(a) != len(b):
        first, last = found.stretches[0], found.stretches[-1]
        prefix = next((i for i, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), min(len(a), len(b)))
        assert first.a_offset == prefix
        assert last.a_offset + last.a_length <= len(a)


def test_too_many_ranges_are_told_together_and_none_is_lost() -> None:
    a = bytes(3 << 20)
    b = bytearray(a)
    changed = range(0, len(b), 64)
    for at in changed:
        b[at] = 1
    found = found_in(a, bytes(b))
    assert len(found.stretches) <= MAX_RANGES
    assert found.joined_within > LEAST_GAP
    assert found.differing == len(changed)
    assert rebuilt(a, bytes(b), found.stretches) == bytes(b)
    assert found.stretches[0].a_offset == 0
    assert found.stretches[-1].a_offset + found.stretches[-1].a_length == changed[-1] + 1


@pytest.mark.parametrize("step", [1, 2, 5, 9])
def test_hostile_patterns_take_under_a_second_a_megabyte(step: int) -> None:
    a = bytes(4 << 20)
    b = bytearray(a)
    b[::step] = b"\1" * len(b[::step])
    begun = time.process_time()
    found = found_in(a, bytes(b))
    assert time.process_time() - begun < 4
    assert found.differing == len(b[::step])
    begun = time.process_time()
    assert found_in(a, bytes(b) + b"tail").differing >= 4
    assert time.process_time() - begun < 4


def test_a_content_that_shrinks_while_it_is_compared_is_told() -> None:
    class Shrinking(BytesView):
        def at(self, offset: int, length: int) -> bytes:
            return b""

    with pytest.raises(Changed):
        between(Shrinking(b"abc"), BytesView(b"abd"))


def test_large_contents_are_read_a_chunk_at_a_time() -> None:
    """64 MiB of zeros, but for one byte: never held, and only touched where it is asked for."""
    asked: list[int] = []

    class Huge:
        size = 64 << 20

        def __init__(self, at: int) -> None:
            self._at = at

        def at(self, offset: int, length: int) -> bytes:
            asked.append(length)
            made = bytearray(min(length, self.size - offset))
            if offset <= self._at < offset + len(made):
                made[self._at - offset] = 1
            return bytes(made)

    found = between(Huge(5), Huge(63 << 20))
    assert [(one.a_offset, one.a_length) for one in found.stretches] == [(5, 1), (63 << 20, 1)]
    assert max(asked) <= bytes_between.CHUNK


def test_progress_counts_to_the_end_and_can_end_the_work() -> None:
    counts: list[int] = []
    between(BytesView(bytes(5 << 20)), BytesView(bytes(5 << 20)), counts.append)
    assert sum(counts) == 5 << 20

    def stop(count: int) -> None:
        raise InterruptedError

    with pytest.raises(InterruptedError):
        between(BytesView(bytes(5 << 20)), BytesView(bytes(6 << 20)), stop)
