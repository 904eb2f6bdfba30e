"""The UNDI ROM ID structure by hand, one field a line (PXE 2.1)."""

from catalogue.formats.undi import read_undi
from catalogue.formats.view import BytesView
from tests.formats.build_rom import undi_structure

UNDI = (
    b"UNDI"
    b"\x16"  # 04h length
    b"\x6b"  # 05h makes the bytes sum to 0
    b"\x00"  # 06h structure revision
    b"\x00\x01\x02"  # 07h UNDI 2.1.0
    b"\x00\x02"  # 0Ah loader
    b"\x00\x08"  # 0Ch stack
    b"\x00\x10"  # 0Eh data
    b"\x00\x04"  # 10h code
    b"PCIR"  # 12h bus
)


def test_every_field():
    image = bytes(32) + UNDI
    (undi,) = read_undi(BytesView(bytes(512) + image), 512, 512 + len(image), 32)
    assert sum(UNDI) % 256 == 0
    assert {one.name: one.value for one in undi.fields} == {
        "structure_length": 0x16,
        "checksum": 0x6B,
        "structure_revision": 0,
        "loader_entry": 0x0200,
        "stack_size": 0x0800,
        "data_size": 0x1000,
        "code_size": 0x0400,
        "bus_type": "PCIR",
        "undi_version": "2.1.0",
    }
    assert (undi.kind, undi.offset, undi.length) == ("undi-structure", 544, 0x16)
    assert not undi.notes


def test_none():
    view = BytesView(bytes(32) + UNDI)
    assert read_undi(view, 0, view.size, 0) == ()
    assert read_undi(view, 0, view.size, 16) == ()
    assert read_undi(view, 0, view.size, 0xFFFF) == ()
    assert read_undi(view, 0, view.size - 1, 32) == ()


def test_a_wrong_sum_is_odd():
    for wrong in (UNDI[:5] + b"\x6c" + UNDI[6:], UNDI[:4] + b"\x15" + UNDI[5:]):
        (undi,) = read_undi(BytesView(bytes(32) + wrong), 0, 32 + len(wrong), 32)
        assert [(one.code, one.offset) for one in undi.notes] == [("rom-odd", 37)]


def test_the_builder_agrees():
    assert undi_structure() == UNDI
