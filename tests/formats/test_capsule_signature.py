"""Signatures before capsule payloads, made by PyPI `cryptography`'s PKCS#7 builder: what holds and what not, bounds."""

from __future__ import annotations

import struct

import pytest
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.serialization import Encoding
from cryptography.hazmat.primitives.serialization.pkcs7 import PKCS7Options, PKCS7SignatureBuilder

from catalogue.formats import capsule, capsule_signature, certificates, inner
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading, SignedBy
from tests.formats.build_capsule import Made, Payload, signed
from tests.formats.build_capsule import capsule as build
from tests.formats.build_signature import AUTHORITY, ROOT, SIGNER, Who, who

FIRMWARE = bytes([0x80, 0xFE, 0, 0x11]) * 120
SIGNED_BY = (SignedBy("Corvane Firmware", "Saltmarsh Authority", "2031-06-30"),)
OTHER = who("Brinewell Firmware", 9)


def signature(body: bytes, count: int = 7, *by: Who, more: tuple[Who, ...] = (AUTHORITY, ROOT), plain: bool = False):
    builder = PKCS7SignatureBuilder().set_data(body + struct.pack("<Q", count))
    for one in by or (SIGNER,):
        builder = builder.add_signer(one.certificate, one.key, hashes.SHA256())
    for one in more:
        builder = builder.add_certificate(one.certificate)
    options = [PKCS7Options.DetachedSignature, PKCS7Options.Binary]
    return builder.sign(Encoding.DER, [*options, PKCS7Options.NoAttributes] if plain else options)


def read(*payloads: bytes, capabilities: int = 1) -> list[Reading]:
    data = build(Made(payloads=tuple(Payload(one, capabilities=capabilities) for one in payloads)))
    reading = capsule.read(BytesView(data))
    assert reading is not None
    return list(reading.parts)


@pytest.mark.parametrize("plain", [False, True])
def test_a_sound_signature(plain: bool):
    (part,) = read(signed(FIRMWARE, signature(FIRMWARE, plain=plain)))
    (one,) = part.parts
    assert (one.value("signature_valid"), one.value("subject")) == (True, "Corvane Firmware")
    assert one.value("chain_subjects") == ("Corvane Firmware", "Saltmarsh Authority", "Saltmarsh Root")
    assert one.value("chain_to_root") is True
    assert part.value("signed_by") == SIGNED_BY
    assert not one.faults
    assert not one.notes


def test_every_byte_of_the_image_and_the_count():
    made = signature(FIRMWARE)
    for at in range(0, len(FIRMWARE), 7):
        mutant = bytearray(FIRMWARE)
        mutant[at] ^= 1 << at % 8
        (part,) = read(signed(bytes(mutant), made))
        assert part.parts[-1].value("signature_valid") is False
        assert part.value("signed_by") == ()
    for other in (signed(FIRMWARE, made, 8), signed(FIRMWARE[:-1], made), signed(FIRMWARE + b"x", made)):
        (part,) = read(other)
        assert [one.code for one in part.parts[-1].faults] == ["signature-broken"]
        assert part.parts[-1].title.endswith(", broken")


def test_dependencies_are_signed_too():
    depends = b"\x0d" + FIRMWARE  # END, then the firmware
    (part,) = read(signed(depends, signature(depends)), capabilities=3)
    assert part.parts[-1].value("signature_valid") is True


def test_two_signers():
    (part,) = read(signed(FIRMWARE, signature(FIRMWARE, 7, SIGNER, OTHER)))
    assert {one.value("subject") for one in part.parts} == {"Corvane Firmware", "Brinewell Firmware"}
    signed_by = part.value("signed_by")
    assert isinstance(signed_by, tuple)
    assert len(signed_by) == 2


def test_what_is_no_signature():
    for raw in (b"no signature", b"\x30\x03\x02\x01\x00", signature(FIRMWARE)[:200]):
        (part,) = read(signed(FIRMWARE, raw))
        (one,) = part.parts
        assert [fault.code for fault in one.faults] == ["signature-damaged"]
        assert part.value("signed_by") == ()
        assert part.value("authenticated") is True


def test_every_byte_of_the_signature():
    """No flipped bit makes another signer, and none is an exception."""
    made = signature(FIRMWARE)
    for at in range(len(made)):
        mutant = bytearray(made)
        mutant[at] ^= 1 << at % 8
        data = build(Made(payloads=(Payload(signed(FIRMWARE, bytes(mutant)), capabilities=1),)))
        reading = capsule.read(BytesView(data))
        assert reading is not None
        assert reading.parts[0].value("signed_by") in ((), SIGNED_BY), at


def test_bounds(monkeypatch: pytest.MonkeyPatch):
    payload = signed(FIRMWARE, signature(FIRMWARE))
    monkeypatch.setattr(capsule_signature, "MAX_PAYLOAD_BYTES", len(FIRMWARE) - 1)
    (part,) = read(payload)
    assert [one.code for one in part.parts[-1].notes] == ["signature-unchecked"]
    assert part.parts[-1].value("signature_valid") is None
    assert part.value("signed_by") == ()
    monkeypatch.undo()
    monkeypatch.setattr(inner, "allowed", lambda _size: False)
    assert read(payload)[0].parts[-1].value("signature_valid") is None
    monkeypatch.undo()
    monkeypatch.setattr(capsule_signature, "MAX_SIGNATURE_BYTES", 100)
    assert [one.code for one in read(payload)[0].parts[-1].faults] == ["signature-damaged"]


def test_proofs_are_counted_for_the_whole_capsule(monkeypatch: pytest.MonkeyPatch):
    payload = signed(FIRMWARE, signature(FIRMWARE))
    monkeypatch.setattr(certificates.Proofs.__init__, "__defaults__", (6,))
    valid = [one.parts[-1].value("signature_valid") for one in read(*[payload] * 3)]
    assert valid == [True, True, None]
