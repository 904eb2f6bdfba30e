"""Firmware volumes by hand, one field a line, and by a generator written from the PI Specification, volume 3."""

import lzma
import struct
import time
import uuid
from itertools import pairwise

import pytest

from catalogue import formats
from catalogue.formats import limits
from catalogue.formats.firmware_volume import read
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.contracts import battery
from tests.formats.build_pe import pe
from tests.formats.build_rom import Made as Rom
from tests.formats.build_rom import image, te
from tests.formats.build_volume import (
    FFS1,
    FFS3,
    LZMA,
    File,
    Made,
    compressed,
    crc_section,
    guided,
    lzma_section,
    name,
    nested,
    section,
    sections,
    version,
    volume,
)

VOLUME = (
    (
        bytes(16)  # 00h zero vector
        + b"\x78\xe5\x8c\x8c\x3d\x8a\x1c\x4f\x99\x35\x89\x61\x85\xc3\x2d\xd3"  # 10h FFS2
        b"\x00\x01\x00\x00\x00\x00\x00\x00"  # 20h length: 256
        b"_FVH"  # 28h
        b"\xff\x0e\x04\x00"  # 2Ch attributes: erased bits are 1
        b"\x48\x00"  # 30h header length
        b"\x4d\xe5"  # 32h checksum: the other words sum to 1AB3h
        b"\x00\x00"  # 34h no extended header
        b"\x00"  # 36h reserved
        b"\x02"  # 37h revision
        b"\x02\x00\x00\x00\x80\x00\x00\x00"  # 38h two blocks of 128
        b"\x00\x00\x00\x00\x00\x00\x00\x00"
        b"\x20\x00\x34\xf2\x01\x00\x02\x40\x80\x03\x00\x00\x00\x00\x00\x01"  # 48h file name
        b"\xb4"  # 58h header checksum
        b"\xaa"  # 59h no sum over the content
        b"\x07"  # 5Ah driver
        b"\x00"  # 5Bh attributes
        b"\x38\x00\x00"  # 5Ch size: 56
        b"\xf8"  # 5Fh state: header and data valid, on erased bits of 1
        b"\x10\x00\x00\x15H\0e\0r\0o\0n\0\0\0"  # 60h name section
        b"\x10\x00\x00\x14\x09\x00v\x007\0.\x001\0\0\0"  # 70h version section, build 9
    ).ljust(256, b"\xff")
)


def words(data: bytes) -> int:
    return sum(struct.unpack(f"<{len(data) // 2}H", data)) & 0xFFFF


def test_every_field_by_hand():
    assert words(VOLUME[:0x48]) == 0
    assert sum(VOLUME[0x48:0x60]) - VOLUME[0x59] - VOLUME[0x5F] & 0xFF == 0
    reading = formats.read(BytesView(VOLUME))
    battery.examine(reading, len(VOLUME))
    assert (reading.format, reading.kind) == ("firmware-volume", "firmware-volume")
    assert reading.title == "Firmware volume, FFS2, 1 files"
    assert reading.faults == reading.notes == ()
    (one,) = reading.parts
    assert {field.name: (field.value, field.offset, field.length) for field in one.fields} == {
        "file_system": ("8C8CE578-8A3D-4F1C-9935-896185C32DD3", 0x10, 16),
        "volume_length": (256, 0x20, 8),
        "signature": ("_FVH", 0x28, 4),
        "attributes": (0x40EFF, 0x2C, 4),
        "header_length": (0x48, 0x30, 2),
        "checksum": (0xE54D, 0x32, 2),
        "extended_header": (0, 0x34, 2),
        "revision": (2, 0x37, 1),
        "checksum_ok": (True, None, 0),
        "block_map": (("2 x 128",), 0x38, 16),
        "files": (1, None, 0),
    }
    (file,) = one.parts
    assert (file.title, file.offset, file.length) == ("driver Heron, version v7.1", 0x48, 56)
    assert {field.name: (field.value, field.offset, field.length) for field in file.fields} == {
        "file_name": ("F2340020-0001-4002-8003-000000000001", 0x48, 16),
        "header_checksum": (0xB4, 0x58, 1),
        "data_checksum": (0xAA, 0x59, 1),
        "file_type": (7, 0x5A, 1),
        "file_attributes": (0, 0x5B, 1),
        "file_size": (56, 0x5C, 3),
        "state": (0xF8, 0x5F, 1),
        "sections": (("name", "version"), None, 0),
        "name": ("Heron", 0x64, 12),
        "version": ("v7.1", 0x76, 10),
        "build_number": (9, 0x74, 2),
    }
    claims = [(claim.value, claim.source, claim.offset) for claim in reading.versions]
    assert claims == [("v7.1", "firmware file Heron, version section", 0x76)]


def made(data: bytes) -> Reading:
    reading = read(BytesView(data))
    assert reading is not None
    battery.examine(reading, len(data))
    return reading


def files_of(*each: File, **more: object) -> tuple[Reading, ...]:
    return made(volume(Made(each, **more))).parts[0].parts  # type: ignore[arg-type]


def test_programs():
    first, second, third = files_of(
        File(sections(section(0x10, pe()), name("Heron"))),
        File(sections(section(0x12, te())), 6),
        File(sections(section(0x19, image(Rom(blocks=1)))), 2),
    )
    assert [one.parts[0].kind for one in (first, second, third)] == [
        "efi-driver",
        "efi-driver",
        "option-rom/legacy-x86",
    ]
    assert first.parts[0].offset == first.offset + 24 + 4
    assert third.ids == third.parts[0].ids


@pytest.mark.parametrize(
    ("packed", "names"),
    [
        (compressed, ("UEFI-compressed", "PE32", "name", "version")),
        (lambda body: compressed(body, 0), ("stored", "PE32", "name", "version")),
        (lzma_section, ("LZMA", "PE32", "name", "version")),
        (crc_section, ("CRC-32", "PE32", "name", "version")),
        (lambda body: section(3, body), ("disposable", "PE32", "name", "version")),
        (lambda body: compressed(lzma_section(body)), ("UEFI-compressed", "LZMA", "PE32", "name", "version")),
    ],
)
def test_packed_sections(packed, names: tuple[str, ...]):
    (one,) = files_of(File(packed(sections(section(0x10, pe()), name("Heron"), version("7.1")))))
    assert one.faults == one.notes == ()
    assert one.value("sections") == names
    assert (one.value("name"), one.value("version")) == ("Heron", "7.1")
    (program,) = one.parts
    unpacked = names[0] in ("UEFI-compressed", "LZMA")
    assert program.inside == ("unpacked" if unpacked else "")
    assert (one.versions[0].offset is None) == unpacked


def test_volumes_in_volumes():
    reading = made(nested(volume(), limits.MAX_VOLUME_DEPTH))
    assert not reading.notes
    for _ in range(limits.MAX_VOLUME_DEPTH):
        reading = reading.parts[0].parts[0]
    assert reading.parts[0].parts[0].value("name") == "Heron"
    assert [one.code for one in made(nested(volume(), limits.MAX_VOLUME_DEPTH + 1)).notes] == ["volume-unread"]


def test_sections_in_sections_end():
    body = name("Heron")
    for _ in range(limits.MAX_SECTION_DEPTH + 1):
        body = section(3, body)
    (one,) = files_of(File(body))
    assert [note.code for note in one.notes] == ["volume-unread"]
    assert one.value("name") is None


def test_extended_header_and_large_file():
    data = volume(Made((File(name("Heron"), large=True),), FFS3, extended=bytes(range(16))))
    (one,) = made(data).parts
    assert one.value("volume_name") == "03020100-0504-0706-0809-0A0B0C0D0E0F"
    assert one.value("extended_length") == 24
    assert one.parts[0].value("large_size") == 32 + len(name("Heron"))
    assert one.parts[0].value("name") == "Heron"
    assert not made(data).faults


@pytest.mark.parametrize("erased", [0x00, 0xFF])
@pytest.mark.parametrize("system", [FFS1, FFS3])
def test_erase_polarity_and_other_file_systems(erased: int, system: str):
    reading = made(volume(Made((File(name("Heron")), File(kind=0xF0), File(state=0x17)), system, erased, tail=2)))
    assert not reading.faults
    assert reading.parts[0].parts[0].title == "driver Heron"
    assert reading.parts[0].parts[1].title.endswith(", deleted")
    assert reading.parts[0].value("files") == 2


@pytest.mark.parametrize(
    ("one", "text"),
    [
        (File(name("x"), header_sum=1), "The header of file"),
        (File(name("x"), data_sum=1), "The content of file"),
        (File(name("x"), summed=True, data_sum=1), "The content of file"),
        (File(name("x"), size=9999), "A file's size"),
        (File(name("x"), size=3), "A file's size"),
        (File(b"\xff\x00\x00\x15abc"), "A section's size"),
        (File(compressed(name("x"), 1, 5)), "A compressed section unpacks to"),
        (File(compressed(name("x"), 9)), "A compressed section has no known type"),
        (File(section(1, b"\x05\0\0\0\x01nothing that unpacks")), "A compressed section was not unpacked"),
        (File(lzma_section(name("x") * 50, 8)), "An LZMA section ends after"),
        (File(guided(LZMA, lzma.compress(b"x" * 40, lzma.FORMAT_ALONE)[:5] + struct.pack("<Q", 40) + b"\xff" * 20)),
         "An LZMA section is damaged"),
        (File(crc_section(name("x"), 1)), "The CRC-32 of a section"),
        (File(section(2, bytes(20))), "A GUID-defined section does not say"),
        (File(section(2, bytes(4))), "A GUID-defined section does not say"),
    ],
)  # fmt: skip
def test_damaged_files(one: File, text: str):
    reading = made(volume(Made((one,))))
    assert [fault.code for fault in reading.faults] == ["volume-damaged"]
    assert reading.faults[0].text.startswith(text)


@pytest.mark.parametrize(
    ("one", "text"),
    [
        (File(section(0x17, b"no volume" * 20)), "A volume inside was not read."),
        (File(guided("a31280ad-481e-41b6-95e8-127f4c984779", b"x")), "A section was not unpacked: Tiano-compressed."),
        (File(guided(LZMA, b"\x5d\0\0\x80\0" + struct.pack("<Q", 1 << 40))), "An LZMA section that says it has 10995"),
        (File(b"".join(section(0x15, b"") for _ in range(300))), "Of its sections 256 are read."),
    ],
)
def test_what_is_left_unread(one: File, text: str):
    reading = made(volume(Made((one,))))
    assert not reading.faults
    assert [(note.code, note.text[: len(text)]) for note in reading.notes] == [("volume-unread", text)]


def test_a_guid_that_needs_no_processing():
    (one,) = files_of(File(guided("f2340021-0001-4002-8003-000000000001", name("Heron"), b"note", 0)))
    assert one.value("name") == "Heron"


@pytest.mark.parametrize(
    ("data", "code", "text"),
    [
        (volume(Made(checksum=1)), "volume-damaged", "The volume's header does not sum to 0"),
        (volume(Made(blocks=7)), "volume-damaged", "The block map covers 3584 bytes"),
        (volume()[:200], "cut-short", "The file ends before the firmware volume does."),
    ],
)
def test_damaged_volumes(data: bytes, code: str, text: str):
    reading = made(data)
    assert (code, text) in [(fault.code, fault.text[: len(text)]) for fault in reading.faults]


def test_the_four_letters_are_no_proof():
    """`_FVH` occurs by chance: without a sum that holds, or a known file system, it is no volume."""
    assert formats.read(BytesView(bytes(40) + b"_FVH" + bytes(200))).kind == "opaque"
    chance = bytearray(0x20000)
    chance[0x1028:0x102C] = b"_FVH"
    assert read(BytesView(bytes(chance))) is None


def test_the_image_of_a_chip():
    """Volumes inside a larger image, on 8-byte steps; what lies between is named."""
    one = volume()
    chip = bytearray(b"\xff" * 0x20000)
    chip[0x1000 : 0x1000 + len(one)] = one
    chip[0x8008 : 0x8008 + len(one)] = one
    chip[0x9004 : 0x9004 + len(one)] = one  # on no 8-byte step
    reading = formats.read(BytesView(bytes(chip)))
    battery.examine(reading, len(chip))
    assert (reading.kind, reading.title) == ("firmware-volume", "Firmware image, 2 volumes")
    assert [part.offset for part in reading.parts] == [0x1000, 0x8008]
    assert [span.name for span in reading.spans] == ["padding", "volume 0", "padding", "volume 1", "not in any volume"]
    assert formats.read(BytesView(bytes(chip[:-1]))).kind == "opaque"


def test_a_header_across_two_stretches_that_are_looked_through():
    one = volume()
    chip = bytearray(b"\xff" * 0x200000)
    for at in (0x100000 - 0x30, 0x100000 - 0x28):
        chip[at : at + len(one)] = one
        assert [part.offset for part in made(bytes(chip)).parts] == [at]
        chip[at : at + len(one)] = b"\xff" * len(one)


def test_ever_the_same_letters():
    """Hostile: nothing but signatures takes bounded time."""
    data = (b"_FVH" * 0x8000 * 4)[:0x80000]
    started = time.perf_counter()
    assert read(BytesView(data)) is None
    assert time.perf_counter() - started < 2


def test_a_bomb():
    """Hostile: sections that unpack to 30 MB of zeros each; together they stay within the bound."""
    bomb = lzma_section(bytes(30 << 20))
    started = time.perf_counter()
    reading = made(volume(Made(tuple(File(bomb, number=one) for one in range(8)))))
    assert time.perf_counter() - started < 5
    assert [note.code for note in reading.notes] == ["volume-unread"] * 6


def test_more_files_than_parts():
    reading = made(volume(Made(tuple(File(name("x")) for _ in range(300)))))
    assert len(reading.parts[0].parts) == limits.MAX_PARTS
    assert reading.parts[0].value("files") == 300
    assert [note.code for note in reading.notes] == ["volume-unread"]


def test_names_are_guids_as_written():
    (one,) = files_of(File(b"", number=9))
    assert one.value("file_name") == str(uuid.UUID("f2340020-0001-4002-8003-000000000009")).upper()


def test_the_map_of_a_volume():
    """Header, files, padding and free space one behind another; a file's sections likewise (steps of 8 and 4 apart)."""
    body = sections(section(0x10, pe()), name("Heron"), compressed(name("Inside")))
    data = volume(Made((File(body), File(bytes(40), 0xF0, 2), File(name("Last"), number=3)), tail=2))
    whole = read(BytesView(data))
    (found,) = whole.parts
    names = [span.name for span in found.spans]
    assert names == ["volume header", "driver Heron", "padding file", "driver Last", "free space"]
    assert found.spans[0].offset == 0
    for before, after in pairwise(found.spans):
        assert 0 <= after.offset - (before.offset + before.length) < 8
    assert found.spans[-1].offset + found.spans[-1].length == len(data)
    file = found.parts[0]
    assert [span.name for span in file.spans] == ["file header", "PE32 section", "name section", "compressed section"]
    for before, after in pairwise(file.spans):
        assert 0 <= after.offset - (before.offset + before.length) < 4
    assert file.spans[-1].offset + file.spans[-1].length == file.offset + file.length
