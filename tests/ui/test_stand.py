"""Stands in real readings: every sample's every part, its bytes, its lines and its stretches."""

from datetime import date
from itertools import pairwise

import pytest

from catalogue import formats
from catalogue.formats.layers import layer_of
from catalogue.formats.view import BytesView
from catalogue.shapes.piece import PieceDetail, PieceInfo
from catalogue.shapes.reading import Field, ListEntry, Reading, Span
from tests.contracts.samples import SAMPLES
from tests.formats.build_pe import MadePe, certificate, pe
from tests.formats.build_signature import signed_pe
from tests.formats.build_volume import File, Made, lzma_section, name, section, sections, volume
from ui.models.lines import MOST_CLAIMS, MOST_INLINE, MOST_MEMBERS, find, lines_of
from ui.models.stand import Stand, stand_at, stand_on
from ui.models.ways import layer_way, part_at

TODAY = date(2031, 3, 1)


def detail_of(data):
    whole = formats.read(BytesView(data))
    info = PieceInfo("0" * 64, len(data), whole.kind, whole.title, versions=whole.versions)
    return PieceDetail(info, whole)


def made(title, parts=(), fields=(), **more):
    return Reading("x", "opaque", title, 0, 1_000, fields=fields, parts=parts, **more)


def ways(reading, way=()):
    yield way
    for at, part in enumerate(reading.parts):
        yield from ways(part, (*way, at))


def stand(detail, data, way) -> Stand:
    layer = layer_way(detail.reading, way)
    bytes_there = layer_of(BytesView(data), detail.reading, layer) if layer else None
    return stand_at(detail, way, None if bytes_there is None else bytes_there.at(0, bytes_there.size), TODAY)


@pytest.mark.parametrize("sample", SAMPLES, ids=str)
def test_every_part_of_every_sample(sample):
    """Its bytes all have a line and lie on the ruler once; every further part has a line or lies in place."""
    detail = detail_of(sample.data)
    for way in ways(detail.reading):
        here = stand(detail, sample.data, way)
        size = len(sample.data) if here.data is None else len(here.data)
        assert 0 <= here.start <= here.end <= size
        for at in {here.start, (here.start + here.end) // 2, here.end - 1} if here.end > here.start else ():
            assert find(here.lines, at) >= 0, (way, at)
        assert sum(one.length for one in here.stretches) == here.end - here.start
        for before, after in pairwise(here.stretches):
            assert before.offset + before.length == after.offset
        assert all(line.offset is None or line.offset >= 0 for line in here.lines)
        shown = {line.way for line in here.lines if line.way is not None}
        in_place = {line.name for line in here.lines if line.kind == "heading"}
        for at, part in enumerate(part_at(detail.reading, way).parts):
            assert (*way, at) in shown or (part.title or part.kind)[:20] in " ".join(in_place)


def test_unpacked_bytes_are_counted_from_their_own_first():
    data = volume(Made((File(lzma_section(section(0x17, volume(Made((File(name("Inner")),)))))),)))
    detail = detail_of(data)
    here = stand(detail, data, (0, 0, 0))
    assert here.unpacked
    assert here.layer == (0, 0, 0)
    assert (here.start, here.end) == (0, len(here.data))
    deeper = stand(detail, data, (0, 0, 0, 0))
    assert deeper.layer == here.layer
    assert deeper.start > 0
    line = next(one for one in deeper.lines if one.name == "file name")
    assert here.data[line.offset : line.offset + line.length] == data[0:0] + here.data[deeper.start : deeper.start + 16]


def test_a_byte_of_a_large_reading_is_found_as_deep_as_it_lies():
    many = tuple(
        File(sections(name(f"Driver {number}"), section(0x10, pe())), number=number % 9) for number in range(60)
    )
    data = volume(Made(many))
    detail = detail_of(data)
    root = stand_at(detail, (), None, TODAY)
    assert [line.kind for line in root.lines].count("part") == 1
    file = part_at(detail.reading, (0, 40))
    found = stand_on(detail, file.offset + 18, TODAY)
    assert found.way[:2] == (0, 40)
    assert found.lines[find(found.lines, file.offset + 18)].name == "file type"


def test_few_lines_stay_in_place_and_many_are_folded():
    fields = tuple(Field(f"f{number}", 1, number, 1) for number in range(10))
    few = PieceDetail(PieceInfo("0" * 64, 1_000, "opaque", "x"), made("all", (made("inner", fields=fields),), fields))
    assert not [line for line in lines_of(few) if line.kind == "part"]
    parts = tuple(made(f"inner {number}", fields=fields) for number in range(MOST_INLINE // 10))
    many = PieceDetail(few.info, made("all", parts, fields))
    assert [line.way for line in lines_of(many) if line.kind == "part"] == [(at,) for at in range(len(parts))]


def test_long_lists_are_lists_of_their_own():
    entries = tuple(ListEntry("md5", "0" * 32, f"name {number}", number) for number in range(MOST_MEMBERS + 1))
    detail = PieceDetail(PieceInfo("0" * 64, 10, "checksum-list", "x"), made("list", entries=entries))
    assert [(line.name, line.long) for line in lines_of(detail) if line.long] == [("61 entries", "entries")]
    assert MOST_CLAIMS < MOST_MEMBERS


SAID = {
    "whole": (signed_pe(), "good", "1 signature: the bytes are those that were signed"),
    "none": (pe(), "note", "Not signed"),
}


@pytest.mark.parametrize("which", SAID)
def test_a_program_says_whether_it_is_signed(which):
    data, mark, sentence = SAID[which]
    said = [line for line in lines_of(detail_of(data), today=TODAY) if line.kind == "said"]
    assert (said[0].mark, said[0].name) == (mark, sentence)


def test_a_changed_byte_is_told_as_such_and_not_as_a_verdict():
    data = bytearray(signed_pe())
    data[0x210] ^= 1
    said = [(line.mark, line.name) for line in lines_of(detail_of(bytes(data)), today=TODAY) if line.kind == "said"]
    assert ("stop", "1 signature: the bytes are not those that were signed") in said
    assert any(mark == "good" and name.startswith("Signed by ") for mark, name in said)
    assert any(mark == "stop" and name.startswith("Digest SHA256") for mark, name in said)
    assert any(name.startswith("under ") for _, name in said)
    assert not any(word in name for _, name in said for word in ("trusted", "safe", "valid"))


def test_a_day_that_is_past_is_a_note():
    lines = lines_of(detail_of(signed_pe()), today=date(2999, 1, 1))
    (line,) = [one for one in lines if one.kind == "said" and "runs from" in one.name]
    assert line.mark == "note"
    assert line.meaning == "that day is past; that alone decides nothing"


def test_a_certificate_entry_that_is_not_read_says_nothing_of_a_signer():
    said = [line.name for line in lines_of(detail_of(pe(MadePe(certificates=certificate())))) if line.kind == "said"]
    assert not any(name.startswith("Signed by") for name in said)


def test_what_is_not_drawn_is_not_called_undescribed():
    spans = tuple(Span(f"member {at}", at * 10, 10) for at in range(3_000))
    detail = PieceDetail(
        PieceInfo("0" * 64, 30_000, "archive/zip", "x"), Reading("zip", "archive/zip", "x", 0, 30_000, spans=spans)
    )
    here = stand_at(detail, (), None, TODAY)
    assert here.stretches[-1].name == "more than is drawn here"
    assert not [one for one in here.stretches if one.name == "not described"]
    gaps = [line for line in here.lines if line.kind == "gap"]
    assert len(gaps) == 1_001
    assert find(here.lines, 29_999) == len(here.lines) - 1
