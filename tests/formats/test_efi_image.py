"""The EFI header by hand, one field a line (UEFI Specification 14.4.2), and what the reference firmware refuses."""

import struct
from dataclasses import replace

import pytest

from catalogue.formats import limits, pe
from catalogue.formats.efi_image import read_efi, unpacked
from catalogue.formats.image_draft import Draft
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import NUMBER, VersionClaim
from tests.formats import build_pe, build_zip
from tests.formats.build_rom import driver, te
from tests.formats.build_uefi_stream import pack
from tests.formats.other_samples import RESOURCES

HEADER = (
    b"\x55\xaa"
    b"\x03\x00"  # 02h initialisation size: 3 blocks
    b"\xf1\x0e\x00\x00"  # 04h signature
    b"\x0b\x00"  # 08h subsystem: boot-service driver
    b"\x64\x86"  # 0Ah machine: x86-64
    b"\x00\x00"  # 0Ch not compressed
    b"\x00\x00\x00\x00\x00\x00\x00\x00"  # 0Eh reserved
    b"\x40\x00"  # 16h the driver
).ljust(0x40, b"\0")
IMAGE = (HEADER + driver()).ljust(3 * 512, b"\0")


def efi(data: bytes, before: int = 512, length: int = 3 * 512) -> Draft:
    draft = Draft(BytesView(bytes(before) + data), before, length)
    read_efi(draft)
    return draft


def changed(offset: int, value: int) -> bytes:
    return IMAGE[:offset] + struct.pack("<H", value) + IMAGE[offset + 2 :]


def test_every_field():
    draft = efi(IMAGE)
    assert {one.name: (one.value, one.offset, one.length) for one in draft.fields} == {
        "initialisation_size": (1536, 514, 2),
        "efi_signature": (0x0EF1, 516, 4),
        "efi_subsystem": (11, 520, 2),
        "efi_machine": (0x8664, 522, 2),
        "efi_compression": (0, 524, 2),
        "efi_image_offset": (0x40, 534, 2),
    }
    assert (draft.name, draft.used, draft.faults, draft.notes) == ("EFI x86-64", 1536, [], [])


def test_the_driver_is_its_own_part_with_its_place_in_the_piece():
    (part,) = efi(IMAGE).parts
    assert (part.format, part.kind, part.offset) == ("pe", "efi-driver", 512 + 0x40)
    machine = next(one for one in part.fields if one.name == "machine")
    assert (machine.value, machine.offset) == (0x8664, 512 + 0x40 + 0x44)
    assert part.value("subsystem") == 11


@pytest.mark.parametrize(
    ("machine", "name"), [(0xAA64, "EFI AArch64"), (0x0EBC, "EFI byte code"), (7, "EFI machine 0007h")]
)
def test_names(machine: int, name: str):
    assert efi(changed(0x0A, machine)).name == name


class TestPacked:
    """A driver with UEFI compression reads like the same driver without, but for where its offsets count."""

    def test_fields_parts_and_offsets(self):
        draft = packed(driver())
        found = {one.name: (one.value, one.offset, one.length) for one in draft.fields}
        assert found["efi_compression"] == (1, 524, 2)
        assert found["efi_packed_size"] == (len(pack(driver())) - 8, 512 + 0x40, 4)
        assert found["efi_unpacked_size"] == (1024, 512 + 0x44, 4)
        assert (draft.faults, draft.notes, draft.versions) == ([], [], [])
        (part,) = draft.parts
        assert part == replace(pe.read_driver(BytesView(driver())), inside="unpacked", layer=1)
        assert part.value("machine") == 0x8664

    def test_versions_stand_nowhere_in_the_file(self):
        """In the part where they stand in the unpacked bytes; around it without an offset and with a source."""
        program = build_pe.pe(build_pe.MadePe(resources=RESOURCES, overlay=b"\0Heron driver 7.11.00\0"))
        reading = packed(program).finish().reading
        (part,) = reading.parts
        plain = pe.read_driver(BytesView(program))
        assert plain is not None
        source = 'dotted number behind "driver"'
        text = VersionClaim("7.11.00", source, program.index(b"7.11.00"), NUMBER)
        assert [one for one in part.versions if one != text] == list(plain.versions) != []
        assert text in part.versions
        assert reading.versions == tuple(
            replace(one, source=f"{one.source} in the unpacked driver", offset=None) for one in part.versions
        )

    def test_notes_and_nested_parts(self):
        """An archive behind the driver lies in the unpacked bytes too; the note about it at the packed driver."""
        program = driver() + build_zip.archive(build_zip.Entry(b"a.txt"))
        draft = packed(program)
        (part,) = draft.parts
        (archive,) = part.parts
        assert (archive.kind, archive.inside, archive.offset) == ("archive/zip", "unpacked", 1024)
        assert [(one.code, one.offset) for one in part.notes] == [("self-extracting", 1024)]
        assert [(one.code, one.offset) for one in draft.notes] == [("self-extracting", 512 + 0x40)]

    def test_a_driver_cut_short_before_it_was_packed(self):
        draft = packed(driver()[:-1])
        (part,) = draft.parts
        reading = draft.finish().reading
        assert [one.code for one in part.faults] == ["rom-damaged"]
        assert [(one.code, one.offset) for one in reading.faults] == [("rom-damaged", 512 + 0x40)]
        assert reading.faults[0].text.startswith("In the driver: The file ends before its section")

    @pytest.mark.parametrize(
        ("body", "text"),
        [
            (bytes([52]) + pack(driver())[1:60], "The driver does not unpack. The stream ends before its last symbol."),
            (driver(), "The driver does not unpack. It says that it takes"),
            (b"", "What unpacks from the image is no EFI program."),  # two sizes of 0
            (pack(b"no program"), "What unpacks from the image is no EFI program."),
        ],
        ids=["cut short", "not packed", "nothing", "no program"],
    )
    def test_damage(self, body: bytes, text: str):
        draft = efi((changed(0x0C, 1)[:0x40] + body).ljust(3 * 512, b"\0"))
        assert [(one.code, one.offset) for one in draft.faults] == [("rom-damaged", 512 + 0x40)]
        assert draft.faults[0].text.startswith(text)
        assert draft.parts == []

    def test_no_room_for_the_sizes(self):
        image = (changed(0x0C, 1)[:0x16] + struct.pack("<H", 3 * 512 - 4)).ljust(3 * 512, b"\1")
        draft = efi(image)
        assert [one.text for one in draft.faults] == ["The driver does not unpack. It ends inside its two sizes."]
        assert "efi_packed_size" not in {one.name for one in draft.fields}

    def test_a_driver_too_large_is_unread_and_no_fault(self):
        body = pack(driver())
        body = body[:4] + struct.pack("<I", limits.MAX_UNPACKED + 1) + body[8:]
        draft = efi((changed(0x0C, 1)[:0x40] + body).ljust(3 * 512, b"\0"))
        assert [(one.code, one.offset) for one in draft.notes] == [("driver-unread", 512 + 0x40)]
        assert draft.parts == []
        assert draft.faults == []

    def test_the_bytes_again(self):
        view = BytesView(bytes(512) + packed_image(driver()))
        draft = Draft(view, 512, 3 * 512)
        read_efi(draft)
        assert unpacked(view, draft.finish().reading) == driver()
        assert unpacked(BytesView(IMAGE), efi(IMAGE, 0).finish().reading) is None


def packed_image(body: bytes) -> bytes:
    return (changed(0x0C, 1)[:0x40] + pack(body)).ljust(3 * 512, b"\0")


def packed(body: bytes) -> Draft:
    data = packed_image(body)
    data += bytes(-len(data) % 512)
    data = data[:2] + struct.pack("<H", len(data) // 512) + data[4:]
    return efi(data, length=len(data))


@pytest.mark.parametrize("compression", [0, 1])
def test_a_te_driver(compression: int):
    body = pack(te()) if compression else te()
    draft = efi((changed(0x0C, compression)[:0x40] + body).ljust(3 * 512, b"\0"))
    (part,) = draft.parts
    assert (part.format, part.kind, part.value("machine"), draft.faults) == ("te", "efi-driver", 0x8664, [])
    assert part.inside == ("unpacked" if compression else "")
    assert part.offset == (0 if compression else 512 + 0x40)


@pytest.mark.parametrize(
    ("data", "at"),
    [
        (changed(4, 0x0EF0), 4),  # signature
        (changed(2, 0), 2),  # initialisation size 0
        (changed(2, 4), 2),  # initialisation size above the image length
        (changed(0x16, 0x19), 0x16),  # driver inside the header
        (changed(0x16, 1536), 0x16),  # driver behind the initialisation size
        (changed(0x0C, 2), 0x0C),  # compression 2
        (changed(0x0C, 0xFFFF), 0x0C),
        (changed(0x16, 0x48), 0x16),  # no program there
    ],
)
def test_damage(data: bytes, at: int):
    draft = efi(data)
    assert [(one.code, one.offset) for one in draft.faults] == [("rom-damaged", 512 + at)]
    assert not draft.parts


def test_a_driver_inside_the_header_is_damage_even_where_one_stands():
    inside = (changed(0x16, 0x18)[:0x18] + driver()).ljust(3 * 512, b"\0")
    assert [(one.code, one.offset) for one in efi(inside).faults] == [("rom-damaged", 512 + 0x16)]


def test_a_driver_larger_than_its_image_is_damage():
    draft = efi(changed(2, 2))  # 2 blocks hold half of the driver's section
    assert [one.code for one in draft.finish().reading.faults] == ["rom-damaged"]
    assert draft.finish().reading.faults[0].text.startswith("In the driver: ")


def test_a_cut_file_leaves_the_driver_unread():
    assert efi(IMAGE[:-1]).parts == []
