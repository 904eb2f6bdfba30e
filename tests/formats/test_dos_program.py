"""DOS programs, made by hand: no outside reader of MZ alone is at hand (the header from memory)."""

from __future__ import annotations

import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.formats import dos_program
from catalogue.formats.reader import Looks
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.formats.build_mz import extended, mz
from tests.formats.build_pe import pe
from tests.formats.build_zip import Entry, archive


def read(data: bytes) -> Reading:
    reading = dos_program.read(BytesView(data))
    assert reading is not None
    return reading


@given(st.integers(1, 3000))
def test_the_size_formula(length: int):
    """(word 04h − 1) × 512 + word 02h, 0 for a full page: whatever the builder made, the program ends where it ends."""
    data = mz(b"\x90" * length)
    reading = read(data)
    assert reading.kind == "dos-program"
    assert reading.value("program_size") == len(data)
    assert not reading.faults
    assert not reading.notes
    behind = read(data + b"tail")
    assert [(one.code, one.offset) for one in behind.notes] == [("data-after-end", len(data))]
    if length > 1:
        assert [one.code for one in read(data[:-1]).faults] == ["cut-short"]


def test_every_field_by_hand():
    """A header whose words are all different: each field is the word the table of the format puts there."""
    words = [
        0x5A4D,
        0x0123,
        0x0302,
        0x0011,
        0x0006,
        0x0708,
        0x090A,
        0x0B0C,
        0x0D0E,
        0x0F10,
        0x1112,
        0x1314,
        0x001C,
        0x1718,
    ]
    data = struct.pack("<14H", *words) + bytes(40)
    reading = read(data)
    numbers = {one.name: (one.value, one.offset, one.length) for one in reading.fields}
    assert numbers == {
        "last_page_bytes": (0x0123, 2, 2),
        "pages": (0x0302, 4, 2),
        "relocations": (0x0011, 6, 2),
        "header_size": (0x0060, 8, 2),
        "least_memory": (0x7080, 10, 2),
        "initial_stack": (0x0D0E, 16, 2),
        "checksum": (0x0F10, 18, 2),
        "entry": (0x1112, 20, 2),
        "relocation_table": (0x001C, 24, 2),
        "program_size": (0x301 * 512 + 0x123, 2, 4),
    }


def test_fields_by_hand():
    data = mz(b"\x90" * 448)
    reading = read(data)
    assert (reading.value("pages"), reading.value("last_page_bytes"), reading.value("header_size")) == (1, 0, 64)
    assert reading.value("initial_stack") == 0x100


def test_versions_in_its_text():
    assert [one.value for one in read(mz(b"QUAYHAND 3.10\r\n")).versions] == ["3.10"]


@pytest.mark.parametrize(
    ("signature", "system", "kind", "title"),
    [
        (b"LE", 1, "dos-program", "DOS-extended program (MZ+LE, header for OS/2)"),
        (b"LX", 9, "dos-program", "DOS-extended program (MZ+LX, header for an unknown system)"),
        (b"LE", 4, "windows-program", "Windows virtual device driver (LE)"),
        (b"NE", 2, "windows-program", "16-bit program for Windows (NE)"),
        (b"NE", 1, "windows-program", "16-bit program for OS/2 (NE)"),
        (b"NE", 3, "windows-program", "16-bit program for European DOS 4 (NE)"),
    ],
)
def test_newer_headers(signature: bytes, system: int, kind: str, title: str):
    reading = read(extended(signature, system))
    assert (reading.kind, reading.title) == (kind, title)
    assert reading.value("newer_header") == signature.decode()
    field = next(one for one in reading.fields if one.name == "target_system")
    assert (field.value, field.length) == (system, 1 if signature == b"NE" else 2)
    assert not reading.faults
    assert [one.value for one in reading.versions] == (["3.10", "2.04"] if kind == "dos-program" else [])


def test_a_newer_header_cut_off_before_its_system():
    data = extended(b"LE")
    at = data.rindex(b"LE")
    reading = read(data[: at + 2])
    assert reading.value("target_system") is None
    assert reading.title.endswith("for an unknown system)")


def test_cut_before_the_newer_header():
    reading = read(mz(relocation_table=0x40, pointer=0x10000))
    assert reading.kind == "opaque"
    assert [one.code for one in reading.faults] == ["cut-short"]
    # Without the relocation table at 40h the word at 3Ch may be anything: an old program is whole.
    assert read(mz(pointer=0x10000)).kind == "dos-program"


def test_what_lies_behind():
    padded = read(mz() + b"\xff" * 300)
    assert padded.spans[-1].name == "padding"
    assert not padded.notes
    for data in (mz(behind=archive(Entry(b"a.rom"))), extended(b"LE") + archive(Entry(b"a.rom"))):
        reading = read(data)
        assert reading.kind == "dos-program"
        assert [one.code for one in reading.notes] == ["self-extracting"]
        assert reading.parts[0].kind == "archive/zip"
        assert data[reading.parts[0].offset :].startswith(b"PK\x03\x04")


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"MZ",
        mz()[:27],
        mz(pages=0),
        mz(last=513),
        b"MZ ist kein Programm, sondern ein Text, der so beginnt.",
        pe(),
    ],
)
def test_what_is_no_dos_program(data: bytes):
    assert dos_program.looks_like(BytesView(data)) is Looks.NO
    assert dos_program.read(BytesView(data)) is None


def test_com_by_its_name():
    reading = dos_program.as_com(65_280)
    assert reading is not None
    assert (reading.kind, reading.length) == ("dos-program", 65_280)
    assert dos_program.as_com(65_281) is None
    assert dos_program.as_com(0) is None
