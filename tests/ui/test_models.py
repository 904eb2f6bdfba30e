"""Qt's own model tester over every model, and what the models promise."""

from array import array
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester

from catalogue.shapes.piece import PieceDetail, PieceInfo, SignatureCheck
from catalogue.shapes.reading import Field, Reading, Span
from tests.ui.world import DETAIL, PADDED, ROM, shelf_row
from ui.models.field_lines import FieldLines
from ui.models.lines import find, lines_of
from ui.models.piece_table import COLUMNS, PAGE, PieceTable
from ui.models.said_rows import SaidRow, SaidRows
from ui.models.stretches import stretches_of

FATAL = QAbstractItemModelTester.FailureReportingMode.Fatal


def watched(model):
    return QAbstractItemModelTester(model, FATAL)


def test_the_piece_table_under_qts_tester(qapp):
    table = PieceTable()
    tester = watched(table)
    for count in (0, 1, PAGE, 3 * PAGE + 5, 0, 7):
        table.show_ids(array("q", range(count)))
        assert table.rowCount() == count
        for page in range(0, (count + PAGE - 1) // PAGE):
            table.take_page(table.round, page, [shelf_row(one) for one in table.page_ids(page)])
    assert table.columnCount() == len(COLUMNS)
    del tester


def test_rows_are_asked_for_once_and_only_when_looked_at(qapp):
    table, wanted = PieceTable(), []
    table.wanted.connect(wanted.append)
    table.show_ids(array("q", range(1_000_000)))
    assert wanted == []
    assert table.index(999_999, 0).data() is None
    assert table.index(999_998, 0).data() is None
    assert wanted == [999_999 // PAGE]
    page = wanted[0]
    table.take_page(table.round, page, [shelf_row(one) for one in table.page_ids(page)])
    assert table.index(999_999, 0).data().endswith("PIECE.ROM")
    table.lose_page(table.round, page)


def test_a_page_of_an_older_showing_is_not_taken(qapp):
    table = PieceTable()
    table.show_ids(array("q", range(5)))
    old = table.round
    table.show_ids(array("q", [9]))
    table.take_page(old, 0, [shelf_row(one) for one in range(5)])
    assert table.row(0) is None


def test_few_pages_are_held(qapp):
    table = PieceTable()
    table.show_ids(array("q", range(PAGE * 200)))
    for page in range(200):
        table.take_page(table.round, page, [shelf_row(one) for one in table.page_ids(page)])
    assert len(table._pages) <= 64


def test_the_other_models_under_qts_tester(qapp):
    lines, rows = FieldLines(), SaidRows()
    testers = watched(lines), watched(rows)
    lines.show_lines(lines_of(DETAIL))
    lines.choose(0x22)
    lines.show_lines([])
    rows.show_rows([SaidRow("a", "A", "below"), SaidRow("b", "B")])
    rows.show_rows([])
    assert testers


def test_every_byte_finds_a_line_that_covers_it():
    lines = lines_of(DETAIL)
    for at in range(PADDED):
        row = find(lines, at)
        assert row >= 0, at
        assert lines[row].covers(at)
    assert find(lines, PADDED) == -1


def test_a_byte_finds_the_narrowest_field():
    lines = lines_of(DETAIL)
    assert lines[find(lines, 0x22)].name == "device ID"  # not the sum, which covers the whole image
    assert lines[find(lines, 0x45)].name == "version"
    assert lines[find(lines, PADDED - 1)].name == "padding (FFh)"


def test_a_line_a_person_stands_on_keeps_its_own_bytes():
    lines = lines_of(DETAIL)
    whole = next(row for row, line in enumerate(lines) if line.name.startswith("checksum"))
    assert find(lines, 0x22, near=whole) == whole


def test_lines_say_who_vouches_where_it_lies_and_what_speaks_against_it():
    said = [(line.kind, line.name) for line in lines_of(DETAIL)]
    assert ("place", "QHBOOT.ROM") in said
    assert ("fact", "named") in said
    assert ("stop", "contradicted") in said
    assert not any(one in line.name + line.value + line.meaning for one in "\u202e\x07" for line in lines_of(DETAIL))


def test_lines_say_which_signature_beside_it_is_not_of_its_bytes():
    checks = tuple(
        SignatureCheck(f"/downloads/x.{state}", state, "Corvane \u202e\x07", "its page", f"why \x07 {state}")
        for state in ("broken", "holds", "unproved", "no-key")
    )
    lines = [line for line in lines_of(replace(DETAIL, signatures=checks)) if line.name == "signature"]
    assert [line.kind for line in lines] == ["stop", "note", "note"]
    assert [line.where for line in lines] == [f"/downloads/x.{state}" for state in ("broken", "unproved", "no-key")]
    assert not any(one in line.value + line.meaning for one in "\u202e\x07" for line in lines)


@st.composite
def details(draw):
    size = draw(st.integers(0, 5_000))
    spans = draw(st.lists(st.tuples(st.integers(0, 6_000), st.integers(0, 6_000)), max_size=12))
    fields = draw(st.lists(st.tuples(st.integers(0, 6_000), st.integers(0, 300)), max_size=12))
    reading = Reading(
        "x",
        "opaque",
        "x",
        0,
        size,
        fields=tuple(Field(f"f{n}", 1, at, length) for n, (at, length) in enumerate(fields)),
        spans=tuple(Span(f"s{n}", at, length) for n, (at, length) in enumerate(spans)),
    )
    return PieceDetail(PieceInfo("0" * 64, size, "opaque", "x"), reading)


@given(details())
def test_the_rulers_stretches_cover_the_piece_once_whatever_a_reading_claims(detail):
    at = 0
    for span in stretches_of(detail.reading, 0, detail.info.size):
        assert span.offset == at
        assert span.length > 0
        at += span.length
    assert at == detail.info.size


@given(details(), st.integers(0, 4_999))
def test_every_byte_of_any_reading_finds_a_line(detail, at):
    row = find(lines_of(detail), at)
    assert (row >= 0) or at >= detail.info.size


@pytest.mark.parametrize("role", [Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.AccessibleTextRole])
def test_what_is_read_aloud_says_name_value_and_place(qapp, role):
    lines = FieldLines()
    lines.show_lines(lines_of(DETAIL))
    row = next(row for row, line in enumerate(lines.lines) if line.name == "vendor ID")
    assert lines.index(row).data(role) == "vendor ID: F234h. maker of the card this image is for. at 0020h, 2 bytes"
    assert ROM[0x20:0x22] == b"\x34\xf2"
