"""Legacy x86 images: what the sum covers, and ISA-style ROMs (PCI Firmware Specification 5.1.1; PnP BIOS 1.0A, 3.1)."""

import pytest

from catalogue.formats.image_draft import Draft
from catalogue.formats.legacy_image import read_isa, read_legacy
from catalogue.formats.view import BytesView
from tests.formats.build_rom import Made, image


def legacy(data: bytes, length: int | None = None, before: int = 512) -> Draft:
    draft = Draft(BytesView(bytes(before) + data), before, len(data) if length is None else length)
    read_legacy(draft)
    return draft


def test_a_sound_image():
    draft = legacy(image(Made()))
    assert {one.name: (one.value, one.offset, one.length) for one in draft.fields} == {
        "initialisation_size": (1024, 514, 1),
        "checksum_ok": (True, None, 0),
    }
    assert (draft.used, draft.faults, draft.notes, draft.parts) == (1024, [], [], [])


def test_the_sum_covers_the_initialisation_size_and_no_more():
    data = bytearray(image(Made(initial_blocks=1)))
    data[600] ^= 1
    assert not legacy(bytes(data)).faults
    data[500] ^= 1
    draft = legacy(bytes(data))
    assert [(one.code, one.offset) for one in draft.faults] == [("rom-damaged", 514)]
    assert draft.fields[1].value is False


@pytest.mark.parametrize(("at", "value"), [(2, 0), (2, 3)])
def test_sizes_that_cannot_be(at: int, value: int):
    data = bytearray(image(Made()))
    data[at] = value
    draft = legacy(bytes(data))
    assert [(one.code, one.offset) for one in draft.faults] == [("rom-damaged", 514)]
    assert draft.fields[1].value is False


def test_headers_and_network_interface_are_parts():
    draft = legacy(image(Made(pnp=(b"Heron", b"Heron 2"), undi=True)))
    assert [one.kind for one in draft.parts] == ["pnp-header", "pnp-header", "undi-structure"]
    assert not draft.faults


def test_headers_lie_anywhere_under_the_larger_size():
    """02h may be larger than the image length; system firmware takes the larger."""
    data = image(Made(pnp=(b"Heron",)))
    assert legacy(data, length=0x80).parts


def test_isa_style():
    data = image(Made(pcir_at=None, blocks=1, pnp=(b"Heron 1.2",)))
    found = read_isa(BytesView(bytes(512) + data), 512)
    assert found is not None
    assert found.reading.kind == "option-rom/isa"
    assert {one.name: one.value for one in found.reading.fields} == {
        "offset": 512,
        "length": 512,
        "initialisation_size": 512,
        "checksum_ok": True,
    }
    assert [one.code for one in found.reading.notes] == ["rom-odd"]
    assert not found.reading.faults
    assert (found.takes, found.ends, found.broken) == (512, True, False)
    assert [one.value for one in found.reading.versions] == ["1.2"]


@pytest.mark.parametrize("entry", [b"\xe9", b"\xeb"])
def test_damaged_where_it_begins_like_code(entry: bytes):
    data = image(Made(pcir_at=None, blocks=1, extra={3: entry}))
    found = read_isa(BytesView(data[:-1] + bytes([data[-1] ^ 1])), 0)
    assert found is not None
    assert found.reading.kind == "option-rom"
    assert found.broken
    assert [(one.code, one.offset) for one in found.reading.faults] == [("rom-damaged", 2), ("rom-damaged", 0x18)]


@pytest.mark.parametrize(
    "data",
    [
        b"\x55\xaa",
        b"\x55\xaa\x00\xe9" + bytes(600),  # size 0
        b"\x55\xaa\x01",
        b"\x55\xaa\x01\x90" + b"\x01" * 508,  # no sum, no jump
        b"\x55\xaa\x7fplain text",
    ],
)
def test_none_where_nothing_speaks_for_an_image(data: bytes):
    assert read_isa(BytesView(data), 0) is None
