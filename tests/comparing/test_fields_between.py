"""Readings side by side: every sample of every reader against itself, its mutants and all others; parts by what they
are, wherever they lie."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue import formats
from catalogue.comparing.bounds import MAX_FIELDS, MAX_WHERE
from catalogue.comparing.fields_between import fields_between
from catalogue.comparing.pairs import WHOLE, pairs
from catalogue.comparing.where import Places
from catalogue.formats.view import BytesView
from catalogue.shapes.comparison import Where
from catalogue.shapes.reading import CardId, DateClaim, Fault, Field, ListEntry, Reading, Span, VersionClaim
from tests.contracts.battery import samples_of

NAMES = st.sampled_from(["offset", "vendor_id", "file_name", "checksum", "x"])
FIELDS = st.lists(st.builds(Field, NAMES, st.integers(0, 2), st.integers(0, 9), st.integers(0, 4)), max_size=4).map(
    lambda many: tuple({one.name: one for one in many}.values())
)
CLAIMS = st.lists(st.builds(VersionClaim, st.sampled_from("12"), st.sampled_from("st")), max_size=4).map(tuple)
FAULTS = st.lists(st.builds(Fault, st.sampled_from("pq"), st.sampled_from("12")), max_size=3).map(tuple)
IDS = st.sampled_from([(), (CardId(1, 2),), (CardId(1, 3),)])


def readings(parts: st.SearchStrategy[tuple[Reading, ...]]) -> st.SearchStrategy[Reading]:
    return st.builds(
        Reading,
        format=st.just("f"),
        kind=st.sampled_from("kl"),
        title=st.sampled_from(["one", "one: more", "two > three", ""]),
        length=st.integers(0, 3),
        fields=FIELDS,
        parts=parts,
        ids=IDS,
        versions=CLAIMS,
        faults=FAULTS,
    )


READINGS = st.recursive(
    readings(st.just(())), lambda inner: readings(st.lists(inner, max_size=2).map(tuple)), max_leaves=5
)
SAMPLES = [sample.data for row in formats.READERS for sample in samples_of(row)[:3]]


def walk(reading: Reading) -> list[Reading]:
    return [reading, *(below for part in reading.parts for below in walk(part))]


@settings(max_examples=40)
@given(READINGS)
def test_a_reading_does_not_differ_from_itself(one: Reading) -> None:
    assert fields_between(one, one).differing == ()


@settings(max_examples=40)
@given(READINGS, READINGS)
def test_every_part_of_both_is_met_once(a: Reading, b: Reading) -> None:
    met = list(pairs(a, b))
    assert sorted(map(repr, walk(a))) == sorted(repr(one.a) for one in met if one.a)
    assert sorted(map(repr, walk(b))) == sorted(repr(one.b) for one in met if one.b)
    assert len({one.path for one in met}) == len(met)
    assert met[0].path == WHOLE
    assert all(one.a.kind == one.b.kind for one in met[1:] if one.a and one.b)


@settings(max_examples=40)
@given(READINGS, READINGS)
def test_the_other_way_round_the_same_values_differ(a: Reading, b: Reading) -> None:
    there, back = fields_between(a, b), fields_between(b, a)
    assert sorted(repr((one.name, one.a, one.b)) for one in there.differing) == sorted(
        repr((one.name, one.b, one.a)) for one in back.differing
    )
    assert there.same == back.same


@settings(max_examples=40)
@given(READINGS, READINGS)
def test_every_difference_differs(a: Reading, b: Reading) -> None:
    for one in fields_between(a, b).differing:
        assert one.only or (type(one.a), one.a) != (type(one.b), one.b)


@pytest.mark.parametrize("data", SAMPLES, ids=range(len(SAMPLES)))
def test_every_sample_against_itself_and_against_one_changed_byte(data: bytes) -> None:
    """What a changed byte changes is told with the part and the field that it lies in."""
    reading = formats.read(BytesView(data))
    assert fields_between(reading, reading).differing == ()
    for at in islice(range(0, len(data), max(1, len(data) // 12)), 12):
        changed = bytearray(data)
        changed[at] ^= 0x20
        found = fields_between(reading, formats.read(BytesView(bytes(changed))))
        assert all(one.only or repr(one.a) != repr(one.b) for one in found.differing)
    places = Places((one.path, one.a) for one in pairs(reading, reading) if one.a)
    for at in range(0, len(data), max(1, len(data) // 50)):
        assert 1 <= len(places.of(at, 3)) <= MAX_WHERE


def image(device: int, at: int = 0, revision: int = 1, kind: str = "option-rom/legacy-x86") -> Reading:
    fields = (
        Field("offset", at),
        Field("device_id", device, at + 4, 2),
        Field("code_revision", revision, at + 6, 2),
        Field("checksum_ok", True, at, 64),
    )
    title = f"{kind.rpartition('/')[2]}; F234:{device:04X}"
    return Reading("option-rom-image", kind, title, at, 64, fields, ids=(CardId(0xF234, device),))


def rom(*images: Reading) -> Reading:
    return Reading("option-rom", "option-rom", "Option ROM", 0, 64 * len(images), (Field("images", 2),), images)


def told(a: Reading, b: Reading) -> list[tuple[str, str, object, object]]:
    return [(one.part, one.name, one.a, one.b) for one in fields_between(a, b).differing]


def test_an_image_is_matched_by_what_it_is_and_not_by_its_place() -> None:
    a = rom(image(0xC80), image(0xC80, 64, 2, "option-rom/efi"))
    b = rom(image(0xC90), image(0xC80, 64), image(0xC80, 128, 3, "option-rom/efi"))
    assert told(a, b) == [
        (WHOLE, "length", 128, 192),
        ("legacy-x86", "offset", 0, 64),
        ("efi", "offset", 64, 128),
        ("efi", "code_revision", 2, 3),
        ("legacy-x86 (2)", "part", None, "legacy-x86; F234:0C90"),
    ]


def test_where_only_the_card_differs_the_images_are_compared() -> None:
    assert told(rom(image(0xC80)), rom(image(0xC81))) == [("legacy-x86", "device_id", 0xC80, 0xC81)]


def test_an_image_of_another_code_type_is_no_counterpart() -> None:
    names = told(rom(image(1)), rom(image(1, kind="option-rom/efi")))
    assert names == [("legacy-x86", "part", "legacy-x86; F234:0001", None), ("efi", "part", None, "efi; F234:0001")]


def test_values_that_come_in_numbers_are_matched_by_value_first() -> None:
    versions = tuple(VersionClaim(one, "text") for one in ("1.0", "2.0", "3.0"))
    entries = (ListEntry("md5", "00", "a.rom", 1), ListEntry("md5", "11", "b.rom", 2))
    a = Reading("f", "k", "t", versions=versions, entries=entries)
    b = replace(a, versions=(*versions[1:], VersionClaim("4.0", "text")), entries=(entries[0],))
    assert told(a, b) == [
        (WHOLE, "version, text", "1.0", "4.0"),
        (WHOLE, "entry b.rom, md5", "11", None),
    ]
    assert told(replace(a, ids=(CardId(1, 2),)), a) == [(WHOLE, "ids", (CardId(1, 2),), None)]
    assert told(replace(a, faults=(Fault("cut", "It is cut."),)), a) == [(WHOLE, "fault cut", "It is cut.", None)]


def test_dates_are_compared_and_told_once_where_a_part_says_them_too() -> None:
    part = Reading("f", "k", "part", dates=(DateClaim("2024-03-01", "stamp", 4),))
    a = Reading("f", "k", "t", dates=part.dates, parts=(part,))
    later = (DateClaim("2024-05-02", "stamp", 4),)
    b = replace(a, dates=later, parts=(replace(part, dates=later),))
    assert told(a, b) == [("part", "date, stamp", "2024-03-01", "2024-05-02")]


def test_more_differing_fields_than_the_bound_are_counted() -> None:
    many = tuple(Field(f"f{number}", number) for number in range(MAX_FIELDS + 7))
    a = Reading("f", "k", "t", fields=many)
    found = fields_between(a, replace(a, fields=tuple(replace(one, value=-1) for one in many)))
    assert (len(found.differing), found.left_out) == (MAX_FIELDS, 7)


def test_bytes_are_named_by_the_narrowest_field_and_else_by_their_part() -> None:
    reading = replace(rom(image(1), image(2, 64)), spans=(Span("image", 0, 64), Span("padding", 128, 32)), length=160)
    places = Places((one.path, one.a) for one in pairs(reading, reading) if one.a)
    assert places.of(4, 1) == (Where("legacy-x86", "device_id"),)
    assert places.of(5, 2) == (Where("legacy-x86", "device_id"), Where("legacy-x86", "code_revision"))
    assert places.of(20, 1) == (Where("legacy-x86", ""),)
    assert places.of(68, 1) == (Where("legacy-x86 (2)", "device_id"),)
    assert places.of(130, 4) == (Where(WHOLE, "padding"),)
    assert places.of(999, 1) == (Where(WHOLE, ""),)


def test_no_more_fields_are_named_for_a_range_than_the_bound() -> None:
    fields = tuple(Field(f"f{number}", 0, 2 * number, 1) for number in range(300))
    reading = Reading("f", "k", "t", length=600, fields=fields)
    assert len(Places([(WHOLE, reading)]).of(0, 600)) == MAX_WHERE
