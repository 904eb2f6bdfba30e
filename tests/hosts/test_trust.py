"""What a machine's lists say of a driver: UEFI Specification, section 32.5; `sbverify` agrees about the signatures."""

from __future__ import annotations

import hashlib
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
from cryptography.x509 import load_der_x509_certificate

from catalogue.hosts.saved_keys import keys_of
from catalogue.hosts.trust import trust_of
from catalogue.shapes.host import DriverTrust, Machine, SecureBootKey
from tests.formats.build_keys import CERTIFICATE, CERTIFICATE_SHA256, IMAGE_SHA256, keys
from tests.formats.build_pe import MadePe, pe
from tests.formats.build_signature import AUTHORITY, CHAIN, ROOT, SIGNER, Made, image_digest, signed_pe, who
from tests.reference import debian

OTHER = who("Another Authority", 9)
IMAGE = MadePe(subsystem=11)
ALONE = Made(certificates=CHAIN[:1])


def entries(kind: str, value: bytes) -> tuple[SecureBootKey, ...]:
    found, why = keys_of(keys(kind, value), "list.esl")
    assert not why
    return found


def asked(data: bytes, db: tuple[SecureBootKey, ...] = (), dbx: tuple[SecureBootKey, ...] = ()) -> DriverTrust:
    return trust_of(data, Machine(db=db, dbx=dbx), padded=False)


@pytest.mark.parametrize("by", [ROOT, AUTHORITY, SIGNER], ids=lambda one: one.name)
def test_any_certificate_of_the_chain_will_do(by):
    found = asked(signed_pe(image=IMAGE), entries(CERTIFICATE, by.der))
    assert found.trusted is not None and found.trusted.name == by.name
    assert [(one.subject, one.authority) for one in found.signers] == [("Corvane Firmware", "Saltmarsh Root")]


def test_an_issuer_that_did_not_come_along_is_proved_by_its_key():
    data = signed_pe(ALONE, image=IMAGE)
    assert asked(data, entries(CERTIFICATE, AUTHORITY.der)).trusted is not None
    assert asked(data, entries(CERTIFICATE, ROOT.der)).trusted is None
    namesake = who("Saltmarsh Authority", 12)
    assert asked(data, entries(CERTIFICATE, namesake.der)).trusted is None


def test_another_authority_is_none():
    assert asked(signed_pe(image=IMAGE), entries(CERTIFICATE, OTHER.der)).trusted is None


def test_a_digest_in_the_list_is_the_images():
    data = signed_pe(image=IMAGE)
    digest = image_digest(pe(IMAGE))
    assert asked(data, entries(IMAGE_SHA256, digest)).trusted is not None
    assert asked(data).sha256 == digest.hex()
    assert asked(data, entries(IMAGE_SHA256, hashlib.sha256(data).digest())).trusted is None


@pytest.mark.parametrize("by", [ROOT, AUTHORITY, SIGNER], ids=lambda one: one.name)
def test_what_is_revoked(by):
    data = signed_pe(image=IMAGE)
    db = entries(CERTIFICATE, ROOT.der)
    signed_part = load_der_x509_certificate(by.der).tbs_certificate_bytes
    stamp = hashlib.sha256(signed_part).digest() + bytes(16)
    digest = image_digest(pe(IMAGE))
    for dbx in (entries(CERTIFICATE, by.der), entries(CERTIFICATE_SHA256, stamp), entries(IMAGE_SHA256, digest)):
        found = asked(data, db, dbx)
        assert found.revoked is not None
    assert asked(data, db, entries(CERTIFICATE, OTHER.der)).revoked is None


def test_a_changed_image_has_no_signer():
    data = bytearray(signed_pe(image=IMAGE))
    data[0x210] ^= 1
    found = asked(bytes(data), entries(CERTIFICATE, ROOT.der))
    assert (found.signers, found.trusted) == ((), None)


def test_what_is_no_image_has_no_digest():
    assert asked(b"MZ" + bytes(100), entries(CERTIFICATE, ROOT.der)) == DriverTrust("")


def test_an_expired_certificate_is_no_matter():
    from datetime import UTC, datetime

    old = who("Old Firmware", 5, AUTHORITY, stop=datetime(2020, 2, 1, tzinfo=UTC))
    data = signed_pe(replace(Made(), by=old, certificates=(old.der, *CHAIN[1:])), image=IMAGE)
    assert asked(data, entries(CERTIFICATE, ROOT.der)).trusted is not None


@pytest.mark.outside
def test_shim(tmp_path: Path):
    """Debian's `shim-signed` is taken by either of the two authorities it is signed under, as `sbverify` has it."""
    from catalogue.formats.driver_signers import signers_of
    from catalogue.formats.view import BytesView

    path = next((debian.files("shim-signed") / "usr/lib/shim").glob("shimx64.efi.signed"), None)
    if path is None:
        pytest.skip("shim-signed has no x86-64 image")
    data = path.read_bytes()
    chains = signers_of(BytesView(data)).chains
    assert chains
    program = debian.program("sbsigntool", "usr/bin/sbverify")
    for number, chain in enumerate(chains):
        issuer = chain.links[-1]
        from cryptography.hazmat.primitives.serialization import Encoding

        (tmp_path / "ca.pem").write_bytes(issuer.known.public_bytes(Encoding.PEM))
        words = [program, "--cert", str(tmp_path / "ca.pem"), str(path)]
        done = subprocess.run(words, capture_output=True, text=True, check=False, timeout=60)
        trusted = asked(data, entries(CERTIFICATE, issuer.node.raw)).trusted
        assert trusted is not None, number
        assert done.returncode == 0, done.stderr
    assert asked(data, entries(CERTIFICATE, OTHER.der)).trusted is None
