"""EFI signature lists: UEFI Specification, section 32.4.1; Debian's `efitools` and `sbsigntool` as other makers."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue import formats
from catalogue.formats import signature_list
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.formats.build_keys import CERTIFICATE, CERTIFICATE_SHA256, IMAGE_SHA256, keys, saved, update
from tests.formats.build_signature import who
from tests.reference import debian

DER = who("Saltmarsh Machines CA").der
DIGESTS = (bytes(range(32)), bytes(range(1, 33)))


def read(data: bytes) -> Reading:
    reading = formats.read(BytesView(data))
    assert reading.kind == "signature-list/efi"
    return reading


def test_lists_end_to_end():
    data = keys(CERTIFICATE, DER) + keys(IMAGE_SHA256, *DIGESTS) + keys(CERTIFICATE_SHA256, DIGESTS[0] + bytes(16))
    reading = read(data)
    assert reading.faults == ()
    assert (reading.value("lists"), reading.value("entries"), reading.value("image_digests")) == (3, 4, 2)
    assert reading.value("certificates") == ("Saltmarsh Machines CA",)
    found = signature_list.keys_in(BytesView(data))
    assert found is not None
    assert [data[one.offset : one.offset + len(one.data)] for one in found.keys] == [one.data for one in found.keys]
    assert [one.data[:32] for one in found.keys[1:3]] == list(DIGESTS)
    assert reading.parts[1].value("entry_1") == DIGESTS[1].hex()


@pytest.mark.parametrize("wrap", [saved, update])
def test_a_saved_variable_and_an_update(wrap):
    plain = signature_list.keys_in(BytesView(keys(IMAGE_SHA256, *DIGESTS)))
    found = signature_list.keys_in(BytesView(wrap(keys(IMAGE_SHA256, *DIGESTS))))
    assert plain is not None and found is not None
    assert [one.data for one in found.keys] == [one.data for one in plain.keys]
    assert found.start == len(wrap(b""))


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (keys(IMAGE_SHA256, *DIGESTS)[:-1], "cut short"),
        (keys(IMAGE_SHA256, DIGESTS[0] + b"x"), "33 bytes; the standard says 32"),
        (keys(IMAGE_SHA256, *DIGESTS) + b"more", "No signature list begins here"),
        (keys(IMAGE_SHA256, *DIGESTS).replace(b"\x7c\0\0\0", b"\x7d\0\0\0"), "contradict"),
    ],
)
def test_damage_is_a_fault(data, why):
    (fault,) = read(data).faults
    assert fault.code == "signature-list-damaged"
    assert why in fault.text


def test_a_certificate_that_cannot_be_read_is_noted():
    assert [one.code for one in read(keys(CERTIFICATE, b"\x30\x03abc")).notes] == ["certificate-unread"]


def test_the_bound_on_entries(monkeypatch):
    monkeypatch.setattr(signature_list, "MAX_LIST_KEYS", 2)
    data = keys(IMAGE_SHA256, *DIGESTS, *DIGESTS) + keys(IMAGE_SHA256, *DIGESTS)
    assert [one.code for one in read(data).notes] == ["too-many"]
    found = signature_list.keys_in(BytesView(data))
    assert found is not None and len(found.keys) == 2 and found.more


@given(st.binary(max_size=200))
def test_chance_makes_no_list(data):
    assert signature_list.keys_in(BytesView(data)) is None or data[:16] in signature_list._RAW


@given(st.binary(max_size=120))
def test_a_quick_look_never_misses(data):
    for body in (data, keys(IMAGE_SHA256, *DIGESTS)[: len(data)] + data, saved(keys(IMAGE_SHA256, *DIGESTS))):
        assert signature_list.maybe(body) or signature_list.start_of(BytesView(body)) is None


@pytest.mark.outside
def test_efitools(tmp_path: Path):
    """Debian's `efitools` makes the list of a certificate and that of a digest."""
    from cryptography.hazmat.primitives.serialization import Encoding
    from cryptography.x509 import load_der_x509_certificate

    certificate = load_der_x509_certificate(DER).public_bytes(Encoding.PEM)
    (tmp_path / "ca.pem").write_bytes(certificate)
    program = debian.program("efitools", "usr/bin/cert-to-efi-sig-list")
    done = subprocess.run([program, "ca.pem", "ca.esl"], cwd=tmp_path, capture_output=True, check=False, timeout=60)
    if done.returncode:
        pytest.skip(f"efitools does not work here: {done.stderr[:200]!r}")
    found = signature_list.keys_in(BytesView((tmp_path / "ca.esl").read_bytes()))
    assert found is not None
    assert [(one.type, one.data) for one in found.keys] == [(CERTIFICATE.upper(), DER)]


@pytest.mark.outside
def test_sbsiglist(tmp_path: Path):
    """Debian's `sbsigntool` makes the list of an image's digest."""
    (tmp_path / "digest").write_bytes(DIGESTS[0])
    program = debian.program("sbsigntool", "usr/bin/sbsiglist")
    owner = ["--owner", "f2340011-0001-4002-8003-000000000001"]
    words = [program, *owner, "--type", "sha256", "--output", "digest.esl", "digest"]
    done = subprocess.run(words, cwd=tmp_path, capture_output=True, check=False, timeout=60)
    if done.returncode:
        pytest.skip(f"sbsiglist does not work here: {done.stderr[:200]!r}")
    assert (tmp_path / "digest.esl").read_bytes() == keys(IMAGE_SHA256, DIGESTS[0])
