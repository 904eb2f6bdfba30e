"""Single hostile numbers in sound structures, at any place: every reader and every container keeps the promise."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.fuzz import fields, promise, targets

TARGETS = targets.every()
STRUCTURED = [name for name in TARGETS if name.startswith(("reader ", "opened ", "passed "))]
EXAMPLES = 25
"""Places tried of a target in a run; `python -m tests.fuzz.campaign` goes on from there."""


@pytest.mark.parametrize("name", STRUCTURED)
@settings(max_examples=EXAMPLES, deadline=None)
@given(drawn=st.data())
def test_any_number_may_be_hostile(name: str, drawn: st.DataObject):
    target = TARGETS[name]
    data = drawn.draw(st.sampled_from(target.seeds()).filter(bool))
    # Structures stand at the front more often than not, and lists of them at the end.
    last = len(data) - 1
    at = drawn.draw(
        st.integers(0, min(last, 128)) | st.integers(0, last) | st.integers(max(0, last - 64), last), label="at"
    )
    width = drawn.draw(st.sampled_from(fields.WIDTHS), label="width")
    order = drawn.draw(st.sampled_from(fields.ORDERS), label="order")
    value = drawn.draw(st.sampled_from(fields.values(len(data), at, width)), label="value")
    assert promise.hold(target.run, fields.hostile(data, at, width, order, value)) is None


@given(st.binary(min_size=1, max_size=40), st.data())
@example(b"abc", None)
def test_one_number_changes_and_nothing_else(data: bytes, drawn: st.DataObject | None):
    at = drawn.draw(st.integers(0, len(data) - 1)) if drawn else 2
    made = fields.hostile(data, at, 4, "big", 0x01020304)
    assert len(made) == len(data)
    assert made[:at] == data[:at]
    assert made[at + 4 :] == data[at + 4 :]
    assert made[at : at + 4] == b"\1\2\3\4"[: len(data) - at]


def test_what_is_tried_holds_the_usual_traps():
    """4 GiB, a count of FFFFFFFFh, itself, the end and beyond it."""
    tried = set(fields.values(1000, 16, 4))
    assert {0, 0xFFFF_FFFF, 16, 1000, 1001, 0x8000_0000} <= tried
    made = list(itertools.islice(fields.every(bytes(20), 4, 5), 500))
    assert len(set(made)) > 30
    assert all(one[:4] == bytes(4) and len(one) == 20 for one in made)
