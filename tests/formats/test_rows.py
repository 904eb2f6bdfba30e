"""Rows of a layout become fields with offsets."""

import pytest

from catalogue.formats.rows import Kind, Row, number, printable, read_rows, text_at
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Field

ROWS = (
    Row("small", 1, 1, Kind.LE, "clause 1", "a byte"),
    Row("little", 2, 2, Kind.LE, "clause 2", "in blocks", 512),
    Row("big", 4, 4, Kind.BE, "clause 3", "network order"),
    Row("text", 8, 4, Kind.TEXT, "clause 4", "four letters"),
)
DATA = (
    b"\xee"  # not a field
    b"\x07"  # small
    b"\x02\x00"  # little: 2 blocks
    b"\x00\x00\x01\x00"  # big: 256
    b"Ab\x00\xff"  # text: two letters and two bytes that are none
)


def test_every_row_is_a_field_with_its_place():
    assert tuple(read_rows(ROWS, BytesView(b"..." + DATA), 3).values()) == (
        Field("small", 7, 4, 1, "a byte", "clause 1"),
        Field("little", 1024, 5, 2, "in blocks", "clause 2"),
        Field("big", 256, 7, 4, "network order", "clause 3"),
        Field("text", "Ab..", 11, 4, "four letters", "clause 4"),
    )


@pytest.mark.parametrize(("length", "names"), [(0, []), (2, ["small"]), (3, ["small"]), (4, ["small", "little"])])
def test_a_row_cut_off_is_left_out(length: int, names: list[str]):
    assert list(read_rows(ROWS, BytesView(DATA[:length]), 0)) == names


def test_number():
    found = read_rows(ROWS, BytesView(DATA), 0)
    assert number(found, "big") == 256
    assert number(found, "text") == 0
    assert number(found, "absent") == 0


def test_printable():
    assert printable(b"a\x1b[0m\x7f~ ") == "a.[0m.~ "


@pytest.mark.parametrize(
    ("data", "text"),
    [(b"Heron\0more", "Heron"), (b"Heron", ""), (b"\0", ""), (b"He\x1bron\0", ""), (b"x" * 200 + b"\0", "")],
)
def test_text_at(data: bytes, text: str):
    assert text_at(BytesView(b"??" + data), 2) == text
