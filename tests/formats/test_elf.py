"""ELF files: made by hand, and real ones against lief."""

from __future__ import annotations

import _ctypes
import shutil
import struct
import sys
import time
from pathlib import Path

import lief
import pytest

from catalogue.formats import elf
from catalogue.formats.reader import Looks
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.formats.build_elf import DYNAMIC, GNU_RELRO, GNU_STACK, INTERP, LOAD, NOTE, TLS, note
from tests.formats.build_elf import elf as build

BUILD_ID = note(b"GNU", 3, bytes(range(20)))
LINUX_TAG = note(b"GNU", 1, bytes(4) + (3).to_bytes(4, "little") + bytes(8))
REAL = [Path(one).resolve() for one in (sys.executable, shutil.which("sh") or "", _ctypes.__file__) if one]


def read(data: bytes) -> Reading:
    reading = elf.read(BytesView(data))
    assert reading is not None
    return reading


@pytest.mark.parametrize("wide", [True, False])
@pytest.mark.parametrize("order", ["<", ">"])
def test_classes_and_byte_orders(wide: bool, order: str):
    segments = ((INTERP, b"/lib/ld.so.1\0"), (NOTE, note(b"GNU", 3, bytes(range(20)), order)))
    data = build(segments, wide=wide, order=order, machine=183)
    reading = read(data)
    assert reading.value("class") == (64 if wide else 32)
    assert reading.value("byte_order") == ("little" if order == "<" else "big")
    assert (reading.value("machine"), reading.value("type")) == (183, 2)
    assert reading.value("entry") == 0x400000
    assert reading.value("interpreter") == "/lib/ld.so.1"
    assert reading.value("build_id") == bytes(range(20)).hex()
    assert (reading.kind, reading.title) == ("linux-program", "Linux program, AArch64")
    for one in reading.fields:
        if one.name == "build_id":
            assert one.offset is not None
            assert data[one.offset : one.offset + one.length] == bytes(range(20))
        if one.name == "interpreter":
            assert one.offset is not None
            assert data[one.offset : one.offset + one.length] == b"/lib/ld.so.1"


@pytest.mark.parametrize("wide", [True, False])
def test_where_every_field_stands(wide: bool):
    """System V gABI, ELF header: offset and size of each field, for both classes."""
    word = 8 if wide else 4
    end = 0x18 + 3 * word + 4
    reading = read(build(wide=wide))
    assert [(one.name, one.offset, one.length) for one in reading.fields] == [
        ("class", 4, 1),
        ("byte_order", 5, 1),
        ("os_abi", 7, 1),
        ("type", 0x10, 2),
        ("machine", 0x12, 2),
        ("entry", 0x18, word),
        ("segment_table", 0x18 + word, word),
        ("section_table", 0x18 + 2 * word, word),
        ("segment_size", end + 2, 2),
        ("segment_count", end + 4, 2),
        ("section_size", end + 6, 2),
        ("section_count", end + 8, 2),
        ("section_names", end + 10, 2),
    ]


@pytest.mark.parametrize("wide", [True, False])
def test_an_interpreter_is_as_long_as_its_segment(wide: bool):
    assert read(build(((INTERP, b"/lib/ld.so"),), wide=wide)).value("interpreter") == "/lib/ld.so"


NO_SYSTEM = "ELF program that names no system (firmware comes so, too), x86-64"


def linked(tag: int, name: bytes) -> tuple[tuple[int, bytes], ...]:
    """A dynamic segment that names an object (gABI, Dynamic Section), and the loaded segment its names lie in.

    The builder loads segments at their offsets; the names follow two program headers and the dynamic segment.
    """
    strings = 64 + 2 * 56 + 48
    return (DYNAMIC, struct.pack("<QQQQQQ", tag, 1, 5, strings, 0, 0)), (LOAD, b"\0" + name + b"\0")


@pytest.mark.parametrize(
    ("segments", "kind", "system", "want", "title"),
    [
        ((), 2, 3, "linux-program", "Linux program, x86-64"),
        (((GNU_RELRO, b""),), 2, 0, "linux-program", "Linux program, x86-64"),
        (((TLS, b""),), 2, 0, "linux-program", "Linux program, x86-64"),
        (((GNU_STACK, b""),), 2, 0, "opaque", NO_SYSTEM),
        (((NOTE, LINUX_TAG),), 2, 0, "linux-program", "Linux program, x86-64"),
        (linked(1, b"libc.so.6"), 3, 0, "linux-program", "Linux shared library, x86-64"),
        (linked(14, b"libheron.so"), 3, 0, "linux-program", "Linux shared library, x86-64"),
        (linked(1, b"libcom32.c32"), 2, 0, "opaque", NO_SYSTEM),
        (linked(9, b"libc.so.6"), 2, 0, "opaque", NO_SYSTEM),
        (((DYNAMIC, bytes(64)),), 2, 0, "opaque", NO_SYSTEM),
        (((INTERP, b"/lib/ld\0"),), 3, 0, "linux-program", "Linux program, x86-64"),
        ((), 2, 0, "opaque", NO_SYSTEM),
        (((NOTE, BUILD_ID),), 2, 0, "opaque", NO_SYSTEM),
        (((GNU_RELRO, b""),), 2, 9, "opaque", "ELF program for FreeBSD, x86-64"),
        ((), 2, 200, "opaque", "ELF program for system 200, x86-64"),
        ((), 1, 0, "opaque", "ELF relocatable object, x86-64"),
        ((), 4, 0, "opaque", "ELF memory image (core), x86-64"),
        ((), 0xFE00, 0, "opaque", "ELF file of type 65024, x86-64"),
    ],
)
def test_only_what_speaks_of_linux_is_a_linux_program(segments, kind: int, system: int, want: str, title: str):
    reading = read(build(segments, kind=kind, system=system))
    assert (reading.kind, reading.title) == (want, title)
    assert not reading.faults


def test_an_unknown_machine_is_given_by_number():
    assert read(build(machine=4242)).title.endswith("machine 4242")


def test_twice_the_same_segment():
    reading = read(build(((INTERP, b"/a\0"), (INTERP, b"/b\0"), (NOTE, BUILD_ID * 2), (INTERP, b"\0"))))
    assert reading.value("interpreter") == "/a"


@pytest.mark.parametrize("length", [6, 8, 20, 40, 63])
def test_cut_in_the_header(length: int):
    reading = read(build()[:length])
    assert reading.kind == "opaque"
    assert [one.code for one in reading.faults] == ["cut-short"]


def test_a_build_id_at_the_very_end():
    assert read(build(((NOTE, BUILD_ID),), body=b"")).value("build_id") == bytes(range(20)).hex()


def test_cut_in_the_segment_table():
    data = build(((GNU_STACK, b""),) * 3, body=b"")
    assert not read(data).faults
    assert [one.code for one in read(data[:-1]).faults] == ["cut-short"]


def test_damaged_notes():
    """A note that counts a gigabyte for itself: no byte more is read than the meter gives."""
    huge = note(b"GNU", 3, bytes(8)).replace((8).to_bytes(4, "little"), (1 << 30).to_bytes(4, "little"))
    started = time.process_time()
    reading = read(build(((NOTE, huge), (TLS, b"")), body=bytes(3 << 20)))
    assert time.process_time() - started < 2
    assert [one.code for one in reading.notes] == ["elf-odd"]
    assert reading.kind == "linux-program"


def test_many_segments_and_notes():
    started = time.process_time()
    segments = ((NOTE, note(b"X", 99, b"") * 200),) * 300
    reading = read(build(segments))
    assert time.process_time() - started < 5
    assert reading.kind == "opaque"


def test_the_meter():
    meter = elf._Meter(BytesView(b"0123456789"))
    assert meter.seek(4) == meter.tell() == 4
    assert meter.read(3) == b"456"
    assert meter.seek(-3, 1) == 4
    assert meter.seek(-2, 2) == 8
    assert meter.read() == b"89"
    with pytest.raises(elf._SpentError):
        for _ in range(elf.MAX_LOOKS):
            meter.read(1)


@pytest.mark.parametrize("data", [b"", b"\x7fELF", b"\x7fELF\x03\x01", b"\x7fELF\x01\x00", b"ELF" * 20])
def test_what_is_no_elf_file(data: bytes):
    assert elf.looks_like(BytesView(data)) is Looks.NO
    assert elf.read(BytesView(data)) is None


@pytest.mark.outside
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the interpreter is an ELF file on Linux only")
@pytest.mark.parametrize("path", REAL, ids=lambda path: path.name)
def test_real_programs_against_lief(path: Path):
    """PyPI `lief` reads the same header, interpreter and build ID of the programs this test runs in."""
    reading = read(path.read_bytes())
    other = lief.ELF.parse(str(path))
    assert isinstance(other, lief.ELF.Binary)
    assert reading.kind == "linux-program"
    assert reading.value("machine") == int(other.header.machine_type.value)
    assert reading.value("type") == int(other.header.file_type.value)
    assert reading.value("entry") == other.header.entrypoint
    assert reading.value("segment_count") == other.header.numberof_segments
    assert reading.value("interpreter") == (other.interpreter if other.has_interpreter else None)
    ids = [bytes(one.description).hex() for one in other.notes if one.type == lief.ELF.Note.TYPE.GNU_BUILD_ID]
    assert reading.value("build_id") == (ids[0] if ids else None)
