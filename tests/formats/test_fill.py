"""Padding is told from data by looking at every byte."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.formats import fill
from catalogue.formats.fill import Stretch, look, used_end
from catalogue.formats.view import BytesView

BYTES = st.lists(st.sampled_from([b"\x00", b"\xff", b"A"]), max_size=60).map(b"".join)


@pytest.fixture(autouse=True)
def small_blocks(monkeypatch: pytest.MonkeyPatch):
    """Blocks of a few bytes, so that every stretch spans several."""
    monkeypatch.setattr(fill, "_BLOCK", 7)
    monkeypatch.setattr(fill, "_TAIL", 3)


@given(BYTES, st.integers(0, 60), st.integers(0, 60))
def test_the_data_of_a_stretch(data: bytes, one: int, other: int):
    start, end = sorted((min(one, len(data)), min(other, len(data))))
    places = [at for at in range(start, end) if data[at] not in (0x00, 0xFF)]
    want = Stretch(start, places[0], places[-1] + 1, end) if places else Stretch(start, end, end, end)
    assert look(BytesView(data), start, end) == want
    assert used_end(BytesView(data), start, end) == (places[-1] + 1 if places else start)
