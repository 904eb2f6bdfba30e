"""`$PnP` headers by hand, one field a line (Plug and Play BIOS 1.0A, 3.2), and chains that lead nowhere."""

import pytest

from catalogue.formats.pnp import MAX_HEADERS, read_chain
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading, VersionClaim
from tests.formats.build_rom import pnp_header

HEADER = (
    b"$PnP"
    b"\x01"  # 04h revision
    b"\x02"  # 05h length: 32 bytes
    b"\x00\x00"  # 06h no next header
    b"\x00"  # 08h reserved
    b"\x1b"  # 09h makes the 32 bytes sum to 0
    b"\x41\xd0\x0a\x00"  # 0Ah device ID
    b"\x30\x00"  # 0Eh manufacturer string
    b"\x38\x00"  # 10h product name string
    b"\x01\x04\x00"  # 12h storage, RAID
    b"\x14"  # 15h indicators
    b"\x23\x01"  # 16h boot connection vector
    b"\x00\x00"  # 18h disconnect vector
    b"\x67\x00"  # 1Ah bootstrap entry vector
    b"\x00\x00"  # 1Ch reserved
    b"\x89\x00"  # 1Eh static resource information vector
)
STRINGS = (
    b"Corvane\x00"  # 30h
    b"Heron BIOS v7.11.02 (2011)\x00"  # 38h
)
IMAGE = bytes(16) + HEADER + STRINGS


def chain(image: bytes, pointer: int = 16, before: int = 0) -> tuple[Reading, ...]:
    return read_chain(BytesView(bytes(before) + image), before, before + len(image), pointer)


def values(reading: Reading) -> dict[str, object]:
    return {one.name: one.value for one in reading.fields}


def test_every_field():
    assert sum(HEADER) % 256 == 0
    (header,) = chain(IMAGE, before=512)
    assert values(header) == {
        "revision": 1,
        "header_length": 32,
        "next_header": 0,
        "checksum": 0x1B,
        "device_identifier": 0x41D00A00,
        "manufacturer_pointer": 0x30,
        "product_pointer": 0x38,
        "device_type": 0x010400,
        "indicators": 0x14,
        "boot_connection_vector": 0x0123,
        "disconnect_vector": 0,
        "bootstrap_entry_vector": 0x67,
        "static_resources": 0x89,
        "checksum_ok": True,
        "manufacturer": "Corvane",
        "product_name": "Heron BIOS v7.11.02 (2011)",
    }
    assert (header.kind, header.offset, header.length) == ("pnp-header", 528, 32)
    assert header.title == "$PnP header 1: Corvane Heron BIOS v7.11.02 (2011)"
    assert not header.notes


def test_the_product_name_claims_a_version():
    (header,) = chain(IMAGE, before=512)
    (claim,) = header.versions
    assert claim == VersionClaim("7.11.02", "$PnP product name", 512 + IMAGE.index(b"7.11.02"))


@pytest.mark.parametrize(
    ("name", "version"),
    [
        (b"Heron 7.11", "7.11"),
        (b"Heron BIOS V6.00b", "6.00b"),
        (b"Heron (21.00.05)", "21.00.05"),
        (b"Heron 2011", None),
        (b"Heron", None),
        (b"x.y.z", None),
        (b"1.2.3.", "1.2.3"),
    ],
)
def test_dotted_numbers_alone_are_versions(name: bytes, version: str | None):
    image = bytes(16) + pnp_header(0, 0, 0x30) + name + b"\0"
    (header,) = chain(image)
    assert [one.value for one in header.versions] == ([version] if version else [])
    for one in header.versions:
        assert one.offset is not None
        assert image[one.offset :].startswith(one.value.encode())


def test_no_header_where_the_pointer_leads():
    assert chain(IMAGE, 0) == ()
    assert chain(IMAGE, 15) == ()
    assert chain(IMAGE, 0xFFFF) == ()


def test_a_wrong_sum_is_odd():
    (header,) = chain(IMAGE.replace(b"\x1b", b"\x1c"))
    assert header.value("checksum_ok") is False
    assert [(one.code, one.offset) for one in header.notes] == [("rom-odd", 16 + 9)]


@pytest.mark.parametrize("length", [0, 1])
def test_a_header_too_short_for_its_fields_is_odd(length: int):
    (header,) = chain(IMAGE[:21] + bytes([length]) + IMAGE[22:])
    assert [one.code for one in header.notes] == ["rom-odd"]


def test_a_header_cut_off():
    for end in range(20, 48):
        (header,) = chain(IMAGE[:end])
        assert header.value("checksum_ok") is False
        assert header.title == "$PnP header 1"


def test_a_chain():
    image = bytes(16) + pnp_header(48, 0, 0) + pnp_header(80, 0, 0) + pnp_header(0, 0, 0)
    assert [one.offset for one in chain(image)] == [16, 48, 80]
    assert not any(one.notes for one in chain(image))


def test_a_chain_that_leads_to_no_header():
    first, second = chain(bytes(16) + pnp_header(48, 0, 0) + pnp_header(90, 0, 0) + bytes(40))
    assert not first.notes
    assert [(one.code, one.offset) for one in second.notes] == [("rom-odd", 48 + 6)]


def test_a_circle_ends():
    headers = chain(bytes(16) + pnp_header(48, 0, 0) + pnp_header(16, 0, 0))
    assert [one.offset for one in headers] == [16, 48]
    assert [one.code for one in headers[-1].notes] == ["rom-odd"]


def test_an_endless_chain_is_bounded():
    image = bytes(16) + b"".join(pnp_header(48 + 32 * at, 0, 0) for at in range(100))
    headers = chain(image)
    assert len(headers) == MAX_HEADERS
    assert [one.code for one in headers[-1].notes] == ["rom-odd"]
