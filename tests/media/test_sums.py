"""SHA256.SUM: written for `sha256sum -c`, read strictly."""

from __future__ import annotations

import hashlib
import subprocess

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.media.sums import MAX_LINES, NotSums, parse, text

A, B = "a" * 64, "b" * 64


@given(
    st.dictionaries(
        st.from_regex(r"[A-Z0-9_]{1,8}(\.[A-Z0-9_]{1,3})?", fullmatch=True),
        st.text("0123456789abcdef", min_size=64, max_size=64),
        min_size=1,
    )
)
def test_what_is_written_is_read_again(entries):
    assert dict(parse(text(entries.items()))) == entries


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\n",
        f"{A}  A.BIN".encode(),
        f"{A} *A.BIN\n".encode(),
        f"{A.upper()}  A.BIN\n".encode(),
        f"{A[1:]}  A.BIN\n".encode(),
        f"{A}  \n".encode(),
        f"{A}  ../A.BIN\n".encode(),
        f"{A}  B\\A.BIN\n".encode(),
        f"{A}  ..\n".encode(),
        f"{A}  A\tB\n".encode(),
        f"{A}  A.BIN\r\n".encode(),
        f"{A}  A.BIN\n\n".encode(),
        f"{A}  A.BIN\n{B}  A.BIN\n".encode(),
        f"{A}  A.BIN\n{B}  a.bin\n".encode(),
        f"{A}  ".encode() + b"\xff\n",
        f"{A}  {'x' * 256}\n".encode(),
        b"x" * (1 << 20) + b"\n",
        b"\0" * 70 + b"\n",
    ],
)
def test_anything_else_is_refused(data):
    with pytest.raises(NotSums):
        parse(data)


def test_too_many_lines_are_refused():
    with pytest.raises(NotSums, match="lines"):
        parse(b"\n" * (MAX_LINES + 1))


@given(st.binary(max_size=300))
def test_no_bytes_make_it_raise_anything_else(data):
    try:
        parse(data)
    except NotSums as error:
        assert str(error)


@pytest.mark.outside
def test_sha256sum_agrees(tmp_path):
    """Source: GNU coreutils, `sha256sum -c`."""
    (tmp_path / "A.BIN").write_bytes(b"abc")
    list_file = tmp_path / "SHA256.SUM"
    list_file.write_bytes(text([("A.BIN", hashlib.sha256(b"abc").hexdigest())]))
    assert (
        list_file.read_bytes()
        == subprocess.run(["sha256sum", "A.BIN"], cwd=tmp_path, capture_output=True, check=True).stdout
    )
    subprocess.run(["sha256sum", "--strict", "-c", "SHA256.SUM"], cwd=tmp_path, check=True, capture_output=True)
