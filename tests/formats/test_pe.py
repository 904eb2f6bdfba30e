"""PE images: made by hand, and real ones against lief and pefile (each an independent reader)."""

from __future__ import annotations

import struct
import time

import lief
import pefile
import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.formats import pe, pe_version
from catalogue.formats.reader import Looks
from catalogue.formats.shifted import shifted
from catalogue.formats.view import BytesView, PartView
from catalogue.shapes.reading import Reading
from tests.formats.build_pe import OPTIONAL_AT, PE_AT, MadePe, certificate, version_resource
from tests.formats.build_pe import pe as build
from tests.formats.build_zip import Entry, archive
from tests.reference import debian
from tests.reference.windows_programs import launchers

KINDS = {10: "efi-application", 11: "efi-driver", 12: "efi-driver", 13: "efi-driver", 2: "windows-program"}
STRINGS = {"CompanyName": "Saltmarsh College", "FileVersion": "12.04.0", "FileDescription": "Berth tool"}


def read(data: bytes) -> Reading:
    reading = pe.read(BytesView(data))
    assert reading is not None
    return reading


@pytest.mark.parametrize("subsystem", [1, 2, 3, 9, 10, 11, 12, 13, 16, 77])
@pytest.mark.parametrize("wide", [True, False])
def test_the_subsystem_gives_the_kind(subsystem: int, wide: bool):
    reading = read(build(MadePe(subsystem=subsystem, wide=wide)))
    assert reading.kind == KINDS.get(subsystem, "windows-program")
    assert reading.value("subsystem") == subsystem
    assert not reading.faults
    assert not reading.notes


@given(
    st.builds(
        MadePe,
        machine=st.integers(0, 0xFFFF),
        subsystem=st.integers(0, 0xFFFF),
        wide=st.booleans(),
        timestamp=st.integers(0, 0xFFFFFFFF),
        code=st.binary(min_size=1, max_size=1500),
        certificates=st.sampled_from([b"", certificate()]),
    )
)
def test_what_was_built_is_read(made: MadePe):
    data = build(made)
    reading = read(data)
    assert reading.value("machine") == made.machine
    assert reading.value("subsystem") == made.subsystem
    assert reading.value("timestamp") == made.timestamp
    assert reading.value("certificate_table_length") == (len(made.certificates) or None)
    for one in reading.fields:
        if one.offset is not None and isinstance(one.value, int) and one.length <= 8:
            assert int.from_bytes(data[one.offset : one.offset + one.length], "little") == one.value
    text = next(span for span in reading.spans if span.name == "section .text")
    assert data[text.offset : text.offset + text.length].rstrip(b"\0") == made.code.rstrip(b"\0")


def test_where_every_field_stands():
    """PE Format, COFF File Header and Optional Header: offset and size of each field."""
    reading = read(build(MadePe(certificates=certificate())))
    assert [(one.name, one.offset, one.length) for one in reading.fields] == [
        ("machine", PE_AT + 4, 2),
        ("section_count", PE_AT + 6, 2),
        ("timestamp", PE_AT + 8, 4),
        ("symbol_table", PE_AT + 12, 4),
        ("symbol_count", PE_AT + 16, 4),
        ("optional_header_size", PE_AT + 20, 2),
        ("characteristics", PE_AT + 22, 2),
        ("optional_magic", OPTIONAL_AT, 2),
        ("entry_point", OPTIONAL_AT + 16, 4),
        ("image_size", OPTIONAL_AT + 56, 4),
        ("headers_size", OPTIONAL_AT + 60, 4),
        ("checksum", OPTIONAL_AT + 64, 4),
        ("subsystem", OPTIONAL_AT + 68, 2),
        ("certificate_table_offset", OPTIONAL_AT + 112 + 32, 4),
        ("certificate_table_length", OPTIONAL_AT + 112 + 36, 4),
        ("signature_count", None, 0),
        ("digest_matches", None, 0),
        ("signed_by", 0x400, 16),
    ]


def test_the_machine_is_named():
    assert read(build(MadePe(machine=0xAA64))).title == "EFI boot-service driver, AArch64"
    assert read(build(MadePe(machine=0x1234))).title.endswith("machine 1234h")


def test_what_is_no_pe_image():
    for data in (
        b"",
        b"MZ",
        b"MZ" + bytes(62),
        build()[:PE_AT],
        b"NZ" + build()[2:],
        build().replace(b"PE\0\0", b"PE\0\1"),
    ):
        assert pe.looks_like(BytesView(data)) is Looks.NO
        assert pe.read(BytesView(data)) is None


def test_version_resource():
    data = build(MadePe(subsystem=3, resources=version_resource(STRINGS)))
    reading = read(data)
    assert reading.title == "Windows console program, x86-64: Berth tool"
    assert reading.value("file_version") == "12.4.0.7"
    assert reading.value("product_version") == "12.4.0.0"
    assert reading.value("string_CompanyName") == "Saltmarsh College"
    assert {(one.value, one.source) for one in reading.versions} == {
        ("12.4.0.7", "VERSIONINFO file version"),
        ("12.4.0.0", "VERSIONINFO product version"),
        ("12.04.0", "VERSIONINFO string FileVersion"),
    }
    for one in reading.fields:
        if one.name.startswith("string_"):
            assert one.offset is not None
            assert data[one.offset : one.offset + one.length].decode("utf-16-le") == one.value
    for claim in reading.versions[:2]:
        assert claim.offset is not None
        high, low = struct.unpack_from("<II", data, claim.offset)
        assert claim.value == f"{high >> 16}.{high & 0xFFFF}.{low >> 16}.{low & 0xFFFF}"


def test_a_version_of_all_zeros_is_no_claim():
    resources = version_resource({}, (0, 0, 0, 0), (0, 0, 0, 0))
    reading = read(build(MadePe(resources=resources)))
    assert reading.value("file_version") == "0.0.0.0"
    assert not reading.versions


@pytest.mark.parametrize(
    ("at", "raw"),
    [
        (0x10, b"\x0f\0\0\0"),  # another resource type
        (0x14, b"\xff\xff\xff\xff"),  # a name table beyond the end
        (0x14, b"\x18\0\0\0"),  # a data entry where a table belongs
        (0x44, b"\x48\0\0\x80"),  # a table where the data entry belongs
        (0x48, b"\xff\xff\xff\x7f"),  # data beyond the image
        (0x0E, b"\0\0"),  # no entries
    ],
)
def test_broken_resource_trees(at: int, raw: bytes):
    resources = bytearray(version_resource(STRINGS))
    resources[at : at + len(raw)] = raw
    reading = read(build(MadePe(resources=bytes(resources))))
    assert reading.value("file_version") is None
    assert reading.kind == "efi-driver"


def test_a_resource_directory_in_no_section():
    directory = OPTIONAL_AT + 112 + 8 * 2
    data = build(MadePe(resources=version_resource(STRINGS), extra={directory: b"\0\0\0\x40"}))
    assert read(data).value("file_version") is None


def test_the_signature_of_the_fixed_version_counts():
    resources = version_resource({}).replace(struct.pack("<I", 0xFEEF04BD), struct.pack("<I", 0xFEEF04BE))
    assert read(build(MadePe(resources=resources))).value("file_version") is None


def tangled() -> bytes:
    """A version resource in which a string begins every four bytes, each with a key that runs to the end."""
    resources = version_resource({"A": "x"})
    tree, block = bytearray(resources[:0x58]), bytearray(resources[0x58:])
    struct.pack_into("<H", block, 0x5C, 0xFFFF)  # StringFileInfo: wLength
    struct.pack_into("<H", block, 0x80, 0xFFFF)  # StringTable: wLength
    block[0x98:] = b"\x04\x00" * 30_000
    struct.pack_into("<I", tree, 0x4C, len(block))
    return build(MadePe(resources=bytes(tree + block)))


def test_pefile_cannot_be_kept_busy():
    """Without the meter pefile took 19 s for this file of 62 KB on the machine where this was written."""
    data = tangled()
    started = time.process_time()
    reading = read(data)
    assert time.process_time() - started < 3
    assert "version-tangled" in {one.code for one in reading.notes}
    assert reading.value("file_version") == "12.4.0.7"


def test_a_meter_that_runs_out_at_once(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(pe_version, "MAX_LOOKS", 1)
    reading = read(build(MadePe(resources=version_resource(STRINGS))))
    assert [one.code for one in reading.notes] == ["version-tangled"]
    assert reading.value("file_version") is None
    assert reading.kind == "efi-driver"


def test_the_meter_counts_looks_and_bytes():
    meter = pe_version._Meter(BytesView(bytes(1000)))
    assert len(meter) == 1000
    assert meter[990:2000] == bytes(10)
    assert meter.find(b"\0\0", 5, 9) == 5
    assert meter.find(b"x", 0, 9) == -1
    with pytest.raises(pe_version._SpentError):
        for _ in range(pe_version.MAX_LOOKS):
            meter[0:1]
    large = pe_version._Meter(BytesView(bytes(4 << 20)))
    assert len(large[0:]) == pe_version.MAX_LOOK_BYTES
    with pytest.raises(pe_version._SpentError):
        for _ in range(pe_version.MAX_BYTES // pe_version.MAX_LOOK_BYTES):
            large[0:]


def test_certificate_table():
    table = certificate()
    data = build(MadePe(certificates=table))
    reading = read(data)
    at = reading.value("certificate_table_offset")
    assert isinstance(at, int)
    assert data[at:] == table
    assert [(one.offset, one.length) for one in reading.spans if one.name == "certificate table"] == [(at, len(table))]
    assert not reading.notes
    cut = read(data[:-1])
    assert [one.code for one in cut.faults] == ["cut-short"]
    assert [one.length for one in cut.spans if one.name == "certificate table"] == [len(table) - 1]
    gone = read(data[:at])
    assert [one.code for one in gone.faults] == ["cut-short"]


def test_bytes_behind_the_image():
    assert [one.code for one in read(build(MadePe(overlay=b"behind"))).notes] == ["data-after-end"]
    padded = read(build(MadePe(overlay=b"\xff" * 512)))
    assert not padded.notes
    assert padded.spans[-1].name == "padding"
    signed = read(build(MadePe(overlay=b"behind", certificates=certificate())))
    assert signed.value("overlay") == 8  # with the two bytes that bring the table to its 8-byte step
    after = build(MadePe(certificates=certificate())) + b"after"
    assert read(after).fields[-1].offset == len(after) - 5


def test_symbols_are_explained():
    reading = read(build(MadePe(symbols=bytes(36))))
    assert not reading.notes
    assert [one.length for one in reading.spans if one.name == "symbols"] == [40]


def test_self_extractor():
    data = build(MadePe(subsystem=2, overlay=archive(Entry(b"HERON.ROM"))))
    reading = read(data)
    assert reading.kind == "windows-program"
    assert [one.code for one in reading.notes] == ["self-extracting"]
    assert [member.name for member in reading.parts[0].members] == ["HERON.ROM"]
    assert data[reading.parts[0].offset :].startswith(b"PK\x03\x04")


@pytest.mark.parametrize("length", [PE_AT + 8, OPTIONAL_AT + 60, OPTIONAL_AT + 250, 0x210])
def test_cut_short(length: int):
    reading = read(build()[:length])
    assert "cut-short" in {one.code for one in reading.faults}
    if length < OPTIONAL_AT + 70:
        assert reading.kind == "opaque"


def test_a_section_that_is_cut_keeps_what_there_is_of_it():
    reading = read(build()[:0x210])
    assert [(one.offset, one.length) for one in reading.spans if one.name == "section .text"] == [(0x200, 0x10)]
    assert not [one for one in read(build()[:0x200]).spans if one.name == "section .text"]


def test_too_many_sections():
    data = build(MadePe(extra={PE_AT + 6: b"\xff\xff"})) + bytes(40 * 400)
    reading = read(data)
    assert "too-many" in {one.code for one in reading.notes}


def test_a_driver_inside_a_rom_moves_to_its_place():
    """What read_driver answers for a stretch, shifted, is what stands in the whole."""
    inner = build(MadePe(resources=version_resource(STRINGS), certificates=certificate(), overlay=archive(Entry(b"a"))))
    whole = bytes(1000) + inner + bytes(24)
    reading = pe.read_driver(PartView(BytesView(whole), 1000, len(inner)))
    assert reading is not None
    moved = shifted(reading, 1000)
    assert moved.offset == 1000
    for one in moved.fields:
        if one.name == "machine":
            assert one.offset is not None
            assert whole[one.offset : one.offset + 2] == b"\x64\x86"
    assert moved.parts[0].offset == reading.parts[0].offset + 1000
    assert [one.offset for one in moved.notes] == [(one.offset or 0) + 1000 for one in reading.notes]
    assert [one.offset - 1000 for one in moved.spans] == [one.offset for one in reading.spans]
    assert shifted(reading, 0) == reading
    assert shifted(shifted(reading, 7), -7) == reading


@pytest.mark.outside
@pytest.mark.parametrize("path", launchers(), ids=lambda path: path.name)
def test_real_programs_against_lief(path):
    """PyPI `lief` reads the same machine, subsystem, time, sections and version resource."""
    data = path.read_bytes()
    reading = read(data)
    other = lief.PE.parse(str(path))
    assert isinstance(other, lief.PE.Binary)
    assert reading.value("machine") == int(other.header.machine.value)
    assert reading.value("subsystem") == int(other.optional_header.subsystem.value)
    assert reading.value("timestamp") == other.header.time_date_stamps
    assert [(one.name, one.offset, one.length) for one in reading.spans if one.name.startswith("section ")] == [
        (f"section {one.name}", one.offset, one.size) for one in other.sections if one.size
    ]
    theirs = other.resources_manager.version if other.has_resources else []
    if not theirs:
        assert reading.value("file_version") is None
        return
    fixed = theirs[0].file_info
    high, low = fixed.file_version_ms, fixed.file_version_ls
    assert reading.value("file_version") == f"{high >> 16}.{high & 0xFFFF}.{low >> 16}.{low & 0xFFFF}"
    strings = {one.key: one.value for table in theirs[0].string_file_info.children for one in table.entries}
    ours = {one.name.removeprefix("string_"): one for one in reading.fields if one.name.startswith("string_")}
    assert {key: one.value for key, one in ours.items()} == strings
    for one in ours.values():
        assert one.offset is not None
        assert data[one.offset : one.offset + one.length].decode("utf-16-le") == one.value


@pytest.mark.outside
def test_signed_efi_programs_of_debian_against_lief():
    """Debian's `shim-signed` and `shim-helpers` hold EFI applications; lief and pefile read the same of them."""
    found = 0
    for path in sorted(debian.files("shim-signed").rglob("*.efi*")):
        data = path.read_bytes()
        if not data.startswith(b"MZ"):
            continue
        found += 1
        reading = read(data)
        other = lief.PE.parse(str(path))
        assert isinstance(other, lief.PE.Binary)
        assert reading.kind == "efi-application"
        assert reading.value("machine") == int(other.header.machine.value)
        assert reading.value("subsystem") == int(other.optional_header.subsystem.value) == 10
        table = other.data_directory(lief.PE.DataDirectory.TYPES.CERTIFICATE_TABLE)
        assert reading.value("certificate_table_offset") == (table.rva or None)
        assert reading.value("certificate_table_length") == (table.size or None)
        assert len(other.signatures) >= 1
        assert not reading.faults
        assert not reading.notes
        program = pefile.PE(data=data, fast_load=True)
        ours = [(one.offset, one.length) for one in reading.spans if one.name.startswith("section ")]
        assert ours == [(one.PointerToRawData, one.SizeOfRawData) for one in program.sections if one.SizeOfRawData]
        assert "cut-short" in {one.code for one in read(data[:-1]).faults}
    assert found


@pytest.mark.outside
def test_there_are_real_programs():
    """pip or PyPI `distlib` is always there where tests run, so the check above is never empty."""
    assert launchers()


@pytest.mark.outside
@pytest.mark.parametrize(
    "made", [MadePe(), MadePe(wide=False, overlay=b"x"), MadePe(resources=version_resource(STRINGS))]
)
def test_our_builder_satisfies_pefile(made: MadePe):
    """pefile, not in its meter, reads the hand-made images as the builder meant them."""
    program = pefile.PE(data=build(made))
    assert program.FILE_HEADER.Machine == made.machine
    assert program.OPTIONAL_HEADER.Subsystem == made.subsystem
    assert program.get_overlay() == (made.overlay or None)
    if made.resources:
        assert program.FileInfo[0][0].StringTable[0].entries[b"FileVersion"] == b"12.04.0"
