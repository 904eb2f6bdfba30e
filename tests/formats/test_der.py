"""DER as far as signatures need it, against PyPI `cryptography`'s own reader and writer."""

from __future__ import annotations

from contextlib import suppress
from datetime import UTC, datetime

import pytest
from cryptography import x509
from hypothesis import given
from hypothesis import strategies as st

from catalogue.formats.der import MAX_CHILDREN, DerError, Node, node_at
from catalogue.formats.signed_data import read_signed_data
from tests.formats.build_signature import CHAIN, SIGNER, octets, oid, seq, signature, tlv


def whole(data: bytes) -> Node:
    return node_at(data, 0, len(data))


def test_a_certificate_falls_into_its_parts():
    """RFC 5280, 4.1: serial, issuer, validity and subject stand where the library finds them."""
    inside = whole(CHAIN[0]).children()[0].children()
    assert int.from_bytes(inside[1].content, "big") == SIGNER.certificate.serial_number
    assert inside[3].raw == SIGNER.certificate.issuer.public_bytes()
    assert inside[5].raw == SIGNER.certificate.subject.public_bytes()
    times = [one.time() for one in inside[4].children()]
    assert times == [SIGNER.certificate.not_valid_before_utc, SIGNER.certificate.not_valid_after_utc]


@given(st.integers(0, 2), st.integers(0, 39), st.lists(st.integers(0, 1 << 28), max_size=6))
def test_object_identifiers(first: int, second: int, rest: list[int]):
    text = ".".join(map(str, (first, second, *rest)))
    assert whole(oid(text)).oid() == text == x509.ObjectIdentifier(text).dotted_string


@given(st.binary(max_size=70_000))
def test_lengths_of_every_form(body: bytes):
    node = whole(octets(body))
    assert node.content == body
    assert node.raw == octets(body)
    with pytest.raises(DerError):
        whole(octets(body)[:-1])


@given(st.binary(max_size=200))
def test_nothing_else_comes_of_damage(data: bytes):
    for read in (whole, lambda raw: whole(raw).children(), lambda raw: whole(raw).oid(), lambda raw: whole(raw).time()):
        with suppress(DerError):
            read(data)
    with suppress(DerError):
        read_signed_data(data, 0, len(data))


def test_signed_data_cut_anywhere():
    data = signature(bytes(32))
    for length in range(len(data)):
        with pytest.raises(DerError):
            read_signed_data(data[:length], 0, length)


@pytest.mark.parametrize(
    "data",
    [b"", b"\x30", b"\x30\x80\0\0", b"\x1f\x81\x01\0", b"\x30\x85\0\0\0\0\1\0", b"\x30\x82\1", b"\x30\x05\2\1"],
)
def test_what_is_refused(data: bytes):
    with pytest.raises(DerError):
        whole(data)


def test_bounds():
    assert len(whole(seq(*[tlv(5)] * MAX_CHILDREN)).children()) == MAX_CHILDREN
    with pytest.raises(DerError, match="over 256"):
        whole(seq(*[tlv(5)] * (MAX_CHILDREN + 1))).children()
    with pytest.raises(DerError):
        whole(tlv(6, b"\x81" * 70 + b"\1")).oid()


@pytest.mark.parametrize(
    ("tag", "text", "year"),
    [(0x17, "491231235959Z", 2049), (0x17, "500101000000Z", 1950), (0x18, "20240506070809.123Z", 2024)],
)
def test_times(tag: int, text: str, year: int):
    """RFC 5280, 4.1.2.5.1: a year of two digits from 50 on is of the last century."""
    assert whole(tlv(tag, text.encode())).time().year == year


@pytest.mark.parametrize(
    "text", ["", "Z", "2024", "20241306070809Z", "20240506070809", "20240506070809+0100", "2024050607080९Z"]
)
def test_damaged_times(text: str):
    with pytest.raises(DerError):
        whole(tlv(0x18, text.encode())).time()
    assert datetime(2024, 1, 1, tzinfo=UTC) == whole(tlv(0x18, b"20240101000000Z")).time()
