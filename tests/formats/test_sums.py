"""The byte sum against the plain one."""

from hypothesis import example, given
from hypothesis import strategies as st

from catalogue.formats.sums import byte_sum


@given(st.binary(max_size=2_000))
@example(b"\xff" * 256)
@example(b"\xff" * 257)
@example(b"\xff" * 65_280)
@example(b"")
def test_it_is_the_sum_of_all_bytes(data: bytes):
    assert byte_sum(data) == sum(data) & 0xFFFF
