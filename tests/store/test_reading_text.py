"""Readings as text: what goes in comes out, exactly."""

from __future__ import annotations

import dataclasses
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.shapes.reading import (
    CardId,
    DateClaim,
    Fault,
    Field,
    ListEntry,
    Member,
    Reading,
    SignedBy,
    Span,
    VersionClaim,
)
from catalogue.store import reading_text

texts = st.text(st.characters(), max_size=12)
numbers = st.integers(0, 1 << 64)
places = st.none() | numbers
values = st.one_of(
    numbers,
    texts,
    st.booleans(),
    st.lists(numbers, min_size=1, max_size=3).map(tuple),
    st.lists(texts, max_size=3).map(tuple),
    st.lists(st.builds(SignedBy, texts, texts, texts), max_size=3).map(tuple),
    st.none(),
)


def tuples(of: st.SearchStrategy[object]) -> st.SearchStrategy[tuple[object, ...]]:
    return st.lists(of, max_size=3).map(tuple)


@st.composite
def readings(draw: st.DrawFn, depth: int = 2) -> Reading:
    return Reading(
        format=draw(texts),
        kind=draw(texts),
        title=draw(texts),
        offset=draw(numbers),
        length=draw(numbers),
        fields=draw(tuples(st.builds(Field, texts, values, places, numbers, texts, texts))),
        parts=draw(tuples(readings(depth - 1))) if depth else (),
        ids=draw(tuples(st.builds(CardId, numbers, numbers, tuples(numbers), places))),
        versions=draw(tuples(st.builds(VersionClaim, texts, texts, places, texts))),
        faults=draw(tuples(st.builds(Fault, texts, texts, places))),
        notes=draw(tuples(st.builds(Fault, texts, texts, places))),
        entries=draw(tuples(st.builds(ListEntry, texts, texts, texts, numbers))),
        members=draw(
            tuples(
                st.builds(Member, texts, numbers, numbers, places, st.booleans(), st.booleans(), texts, places, numbers)
            )
        ),
        spans=draw(tuples(st.builds(Span, texts, numbers, numbers))),
        inside=draw(texts),
        dates=draw(tuples(st.builds(DateClaim, texts, texts, places))),
        layer=draw(numbers),
    )


@given(readings())
def test_round_trip(reading: Reading) -> None:
    text = reading_text.dump(reading)
    assert text.isascii()
    assert reading_text.load(text) == reading


@given(st.binary(max_size=8), st.booleans(), st.booleans())
def test_types_survive(raw: bytes, flag: bool, other: bool) -> None:
    """True is not 1 and a tuple of numbers is not a tuple of texts, although they compare equal."""
    reading = Reading("f", "k", "t", fields=(Field("a", flag), Field("b", tuple(raw)), Field("c", int(other))))
    back = reading_text.load(reading_text.dump(reading))
    assert [type(one.value) for one in back.fields] == [bool, tuple, int]


@given(readings(0))
def test_plain_says_all(reading: Reading) -> None:
    if reading_text.is_plain(reading):
        assert reading == Reading(reading.format, reading.kind, reading.title, length=reading.length)


def test_every_field_counts_as_more_than_plain() -> None:
    plain = Reading("f", "k", "t", length=3)
    assert reading_text.is_plain(plain)
    more = {
        "fields": (Field("a", 1),),
        "parts": (plain,),
        "ids": (CardId(1, 2),),
        "versions": (VersionClaim("1", "s"),),
        "faults": (Fault("a", "b"),),
        "notes": (Fault("a", "b"),),
        "entries": (ListEntry("md5", "00", "n", 1),),
        "members": (Member("a", 1, 1, None),),
        "spans": (Span("a", 0, 1),),
        "inside": "unpacked",
        "dates": (DateClaim("1", "s"),),
        "layer": 1,
        "offset": 4,
    }
    said = {"format", "kind", "title", "length"}
    assert {field.name for field in dataclasses.fields(Reading)} == set(more) | said
    for name, value in more.items():
        assert not reading_text.is_plain(dataclasses.replace(plain, **{name: value})), name


@pytest.mark.parametrize("text", ["", "{}", "[]", "[1]", '["f","k"]', "null", json.dumps(["f", "k", "t", 0, 0, [3]])])
def test_what_is_no_reading(text: str) -> None:
    with pytest.raises(ValueError):
        reading_text.load(text)
