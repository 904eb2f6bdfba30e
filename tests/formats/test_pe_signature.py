"""Signatures of PE images made by hand: what holds, what is broken and where, and how much is looked at."""

from __future__ import annotations

import hashlib
import random
import struct
import time
from datetime import UTC, datetime

import pytest
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.hazmat.primitives.serialization import Encoding

from catalogue import formats
from catalogue.formats import certificates, image_digest, limits, pe
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading, SignedBy
from tests.formats import build_rom
from tests.formats.build_pe import OPTIONAL_AT, MadePe
from tests.formats.build_pe import pe as build
from tests.formats.build_signature import (
    AUTHORITY,
    CHAIN,
    NESTED,
    ROOT,
    SIGNER,
    Made,
    attribute,
    countersignature,
    entry,
    signature,
    signed_pe,
    token,
    who,
    with_table,
)
from tests.formats.build_signature import (
    image_digest as digest_by_hand,
)

SIGNED_BY = (SignedBy("Corvane Firmware", "Saltmarsh Authority", "2031-06-30"),)
OTHER = who("Brinewell Firmware", 9)
STAMPER = who("Saltmarsh Clock", 8, ROOT)
RSA = rsa.generate_private_key(65537, 2048)
CHECKSUM, ENTRY = range(OPTIONAL_AT + 64, OPTIONAL_AT + 68), range(OPTIONAL_AT + 144, OPTIONAL_AT + 152)


def read(data: bytes) -> Reading:
    reading = pe.read(BytesView(data))
    assert reading is not None
    return reading


def codes(reading: Reading) -> set[str]:
    """The codes of faults and notes of a reading and its parts."""
    own = {one.code for one in (*reading.faults, *reading.notes)}
    return own.union(*(codes(part) for part in reading.parts))


def test_unsigned():
    reading = read(build())
    assert reading.value("signed_by") == ()
    assert reading.value("digest_matches") is None
    assert not reading.parts


def test_a_sound_signature():
    data = signed_pe()
    reading = read(data)
    assert not codes(reading)
    assert reading.value("signed_by") == SIGNED_BY
    assert reading.value("signature_count") == 1
    assert reading.value("digest_matches") is True
    (part,) = reading.parts
    said = {one.name: one.value for one in part.fields}
    assert (said["subject"], said["issuer"]) == ("Corvane Firmware", "Saltmarsh Authority")
    assert said["signature_valid"] is said["digest_matches"] is said["chain_to_root"] is True
    assert said["signature_algorithm"] == "ECDSA with sha256"
    assert said["chain_subjects"] == ("Corvane Firmware", "Saltmarsh Authority", "Saltmarsh Root")
    assert said["chain_issuers"] == ("Saltmarsh Authority", "Saltmarsh Root", "Saltmarsh Root")
    assert said["chain_sha256"] == tuple(hashlib.sha256(one).hexdigest() for one in CHAIN)
    assert said["certificate_sha256"] == said["chain_sha256"][0]
    assert said["image_digest"] == said["signed_digest"] == digest_by_hand(build()).hex()
    assert said["serial_number"] == "03"
    assert (said["valid_from"], said["expires"]) == ("2020-01-01", "2031-06-30")
    assert (said["nested"], said["certificate_count"]) == (False, 3)


def test_fields_stand_where_they_say():
    data = signed_pe()
    (part,) = read(data).parts
    held = {one.name: data[one.offset : one.offset + one.length] for one in part.fields if one.offset is not None}
    assert held["entry_length"] == struct.pack("<I", part.value("entry_length"))
    assert held["entry_type"] == b"\x02\0"
    assert held["signed_digest"].hex().endswith(part.value("signed_digest"))
    assert hashlib.sha256(held["subject"]).hexdigest() == part.value("certificate_sha256")
    assert held["signature_algorithm"][:1] == b"\x30"


@pytest.mark.parametrize("digest", ["sha1", "sha256", "sha384", "sha512"])
@pytest.mark.parametrize("way", ["rsa", "pss", "ecdsa", "plain", "key id", "bare"])
def test_ways_to_sign(way: str, digest: str):
    by = who("Corvane Firmware", 4, AUTHORITY, RSA) if way in ("rsa", "pss") else SIGNER
    made = Made(
        by,
        (by.der, *CHAIN[1:]),
        digest,
        pss=way == "pss",
        plain=way == "plain",
        by_key_id=way == "key id",
        wrapped=way != "bare",
    )
    reading = read(signed_pe(made))
    assert not codes(reading)
    assert reading.value("signed_by") == SIGNED_BY
    assert reading.parts[0].value("digest_algorithm") == digest


def test_every_byte_of_the_image_counts():
    """Flipped anywhere but in checksum, directory entry and table, a bit breaks the signature or what is read of it."""
    data = signed_pe(image=MadePe(overlay=b"sixteen bytes on"))
    table = read(data).value("certificate_table_offset")
    assert isinstance(table, int)
    chance = random.Random(3)
    for at in range(table):
        mutant = bytearray(data)
        mutant[at] ^= 1 << chance.randrange(8)
        reading = pe.read(BytesView(bytes(mutant)))
        if at in CHECKSUM:
            assert reading is not None
            assert reading.value("digest_matches") is True
        elif reading is not None and at not in ENTRY:
            assert reading.value("digest_matches") is not True, hex(at)
            if reading.value("digest_matches") is False:
                assert "signature-broken" in codes(reading)


def test_every_byte_of_the_signature_counts():
    """No flipped bit of the table makes another signer, nor leaves a chain that leads to the root with other names."""
    data = signed_pe()
    table = read(data).value("certificate_table_offset")
    assert isinstance(table, int)
    sound = read(data).parts[0].value("chain_sha256")
    for at in range(table, len(data)):
        mutant = bytearray(data)
        mutant[at] ^= 1 << at % 8
        reading = read(bytes(mutant))
        signed_by = reading.value("signed_by")
        assert signed_by in ((), SIGNED_BY), hex(at)
        for part in reading.parts:
            if part.value("chain_to_root"):
                assert part.value("chain_sha256") == sound
            else:
                assert part.faults or part.notes or part.value("chain_sha256") != sound


def test_another_image():
    data = signed_pe()
    other = with_table(build(MadePe(code=b"\x90" * 64)), data[len(build()) :])
    reading = read(other)
    assert reading.value("digest_matches") is False
    assert reading.parts[0].value("signature_valid") is True
    assert codes(reading) == {"signature-broken"}
    assert reading.parts[0].title.endswith(", broken")


def test_appended_bytes():
    reading = read(signed_pe() + b"appended")
    assert reading.value("digest_matches") is False
    assert codes(reading) == {"signature-broken", "data-after-end"}


def test_a_signed_driver_in_a_rom():
    """The padding to whole blocks of 512 bytes is the ROM's (PCI Firmware Specification, 5.1), not the driver's."""
    program = signed_pe()
    assert len(program) % 512
    data = build_rom.rom(build_rom.efi(driver=program, blocks=5))
    (image,) = formats.read(BytesView(data)).parts
    (driver,) = image.parts
    assert driver.value("signed_by") == SIGNED_BY
    assert driver.value("digest_matches") is True
    assert codes(driver) == {"padding-not-signed"}
    assert data[driver.parts[0].offset :].startswith(program[driver.value("certificate_table_offset") :])
    spoilt = data.replace(b"\xc3" * 64, b"\xc3" * 63 + b"\xc2")
    assert spoilt != data
    (image,) = formats.read(BytesView(spoilt)).parts
    assert image.parts[0].value("digest_matches") is False
    assert read(program + bytes(100)).value("digest_matches") is False


def test_signed_by_another_key():
    """A certificate copied beside a signature that its key did not make names nobody."""
    data = build()
    forged = signature(digest_by_hand(data), Made(who("Corvane Firmware", 3, AUTHORITY, OTHER.key)))
    reading = read(with_table(data, entry(forged)))
    assert reading.value("signed_by") == ()
    assert reading.value("digest_matches") is True
    assert codes(reading) == {"signature-broken"}


@pytest.mark.parametrize("made", [Made(stated_digest=bytes(32)), Made(stated_type="1.2.840.113549.1.7.1")])
def test_another_content_was_signed(made: Made):
    reading = read(signed_pe(made))
    assert reading.value("signed_by") == ()
    assert codes(reading) == {"signature-broken"}


def test_a_certificate_that_its_issuer_did_not_sign():
    forged = who("Corvane Firmware", 3, who("Saltmarsh Authority", 2, ROOT, OTHER.key), SIGNER.key)
    reading = read(signed_pe(Made(forged, (forged.der, AUTHORITY.der))))
    assert reading.value("signed_by") == ()
    assert codes(reading) == {"certificate-broken"}


def test_the_right_one_of_two_issuers_with_one_name():
    twin = who("Saltmarsh Authority", 2, ROOT, OTHER.key)
    reading = read(signed_pe(Made(certificates=(twin.der, *CHAIN))))
    assert not codes(reading)
    assert reading.parts[0].value("chain_to_root") is True


def test_chains_as_far_as_they_go():
    reading = read(signed_pe(Made(certificates=CHAIN[:1])))
    assert not codes(reading)
    assert reading.value("signed_by") == SIGNED_BY
    assert reading.parts[0].value("chain_issuers") == ("Saltmarsh Authority",)
    assert reading.parts[0].value("chain_to_root") is False
    gone = read(signed_pe(Made(certificates=())))
    assert gone.value("signed_by") == ()
    assert codes(gone) == {"signature-unchecked"}


def test_issuers_in_a_circle():
    first = who("Saltmarsh One", 20)
    second = who("Saltmarsh Two", 21, first)
    circle = who("Saltmarsh One", 20, second, first.key)
    reading = read(signed_pe(Made(second, (second.der, circle.der))))
    assert len(reading.parts[0].value("chain_subjects")) == 2
    assert reading.parts[0].value("chain_to_root") is False


def test_two_signatures():
    other = Made(OTHER, (OTHER.der,), "sha512")
    reading = read(signed_pe(Made(), other))
    assert not codes(reading)
    assert [one.subject for one in reading.value("signed_by")] == ["Corvane Firmware", "Brinewell Firmware"]
    assert [one.offset % 8 for one in reading.parts] == [0, 0]


def test_two_signers_of_one_signature():
    data = build()
    both = Made(certificates=(*CHAIN, OTHER.der))
    table = entry(signature(digest_by_hand(data), both, Made(OTHER)))
    reading = read(with_table(data, table))
    assert not codes(reading)
    assert [one.subject for one in reading.value("signed_by")] == ["Corvane Firmware", "Brinewell Firmware"]


def test_a_nested_signature():
    inner = signature(digest_by_hand(build(), "sha1"), Made(OTHER, (OTHER.der,), "sha1"))
    reading = read(signed_pe(Made(unsigned=[attribute(NESTED, inner)])))
    assert not codes(reading)
    assert [one.subject for one in reading.value("signed_by")] == ["Corvane Firmware", "Brinewell Firmware"]
    assert [one.value("nested") for one in reading.parts] == [False, True]
    broken = read(signed_pe(Made(unsigned=[attribute(NESTED, signature(bytes(32), Made(OTHER, (OTHER.der,))))])))
    assert broken.value("digest_matches") is False
    assert [len(one.faults) for one in broken.parts] == [0, 1]


@pytest.mark.parametrize("kind", ["token", "countersignature"])
def test_time_stamps(kind: str):
    def stamp(raw: bytes) -> bytes:
        by = Made(STAMPER, (STAMPER.der, ROOT.der))
        return token(raw, by) if kind == "token" else countersignature(raw, by)

    made = Made(stamp=stamp, certificates=(*CHAIN, STAMPER.der))
    (part,) = read(signed_pe(made)).parts
    assert not part.notes
    assert part.value("timestamp") == "2024-05-06T07:08:09+00:00"
    assert part.value("timestamp_by") == "Saltmarsh Clock"
    assert part.value("timestamp_valid") is True


@pytest.mark.parametrize(
    "stamp",
    [
        lambda raw: token(raw + b"x", Made(STAMPER, (STAMPER.der,))),
        lambda raw: token(raw, Made(who("Saltmarsh Clock", 8, ROOT, OTHER.key), (STAMPER.der,))),
        lambda raw: token(raw, Made(STAMPER, ())),
        lambda raw: countersignature(raw + b"x", Made(STAMPER)),
    ],
)
def test_time_stamps_that_prove_nothing(stamp: object):
    reading = read(signed_pe(Made(stamp=stamp, certificates=(*CHAIN, STAMPER.der))))
    assert reading.value("signed_by") == SIGNED_BY
    assert reading.parts[0].value("timestamp_valid") is not True
    assert codes(reading) == {"timestamp-unproved"}


def test_a_damaged_time_stamp_is_a_note():
    reading = read(signed_pe(Made(unsigned=[attribute("1.3.6.1.4.1.311.3.3.1", b"\x30\x03\x02\x01\x05")])))
    assert reading.value("signed_by") == SIGNED_BY
    assert codes(reading) == {"timestamp-unread"}


def test_signed_after_the_certificate_expired():
    late = who("Corvane Firmware", 3, AUTHORITY, stop=datetime(2023, 1, 1, tzinfo=UTC))
    made = Made(late, (late.der, STAMPER.der), stamp=lambda raw: token(raw, Made(STAMPER, (STAMPER.der,))))
    reading = read(signed_pe(made))
    assert reading.value("signed_by") == (SignedBy("Corvane Firmware", "Saltmarsh Authority", "2023-01-01"),)
    assert codes(reading) == {"signed-out-of-time"}
    assert "2024-05-06" in reading.parts[0].notes[0].text


def test_bytes_hidden_in_the_table():
    data = build()
    table = entry(signature(digest_by_hand(data)) + b"hidden")
    reading = read(with_table(data, table))
    assert reading.value("signed_by") == SIGNED_BY
    assert codes(reading) == {"data-in-signature"}


def test_what_is_no_signature_of_an_image():
    data = build()
    other = signature(digest_by_hand(data), Made(content_type="1.2.840.113549.1.7.1"))
    for body in (b"", b"\x30", b"\x30\x80\0\0", b"\x1f\x81\0", b"text that is none", other):
        reading = read(with_table(data, entry(body)))
        assert reading.value("signed_by") == ()
        assert codes(reading) == {"signature-damaged"}
    unread = read(with_table(data, entry(bytes(8), kind=1)))
    assert codes(unread) == {"signature-unread"}


def test_an_entry_by_guid():
    """UEFI Specification, WIN_CERTIFICATE_UEFI_GUID with EFI_CERT_TYPE_PKCS7_GUID."""
    data = build()
    guid = bytes.fromhex("9dd2af4adf68ee498aa9347d375665a7")
    reading = read(with_table(data, entry(guid + signature(digest_by_hand(data)), kind=0x0EF1)))
    assert not codes(reading)
    assert reading.value("signed_by") == SIGNED_BY
    assert codes(read(with_table(data, entry(bytes(16) + signature(digest_by_hand(data)), kind=0x0EF1)))) == {
        "signature-unread"
    }


def test_tables_that_do_not_add_up():
    sound = signed_pe()
    at = read(sound).value("certificate_table_offset")
    assert isinstance(at, int)
    for length in (0, 7, len(sound) - at + 1, 0xFFFFFFFF):
        reading = read(sound[:at] + struct.pack("<I", length) + sound[at + 4 :])
        assert reading.value("signed_by") == ()
        assert codes(reading) == {"signature-damaged"}
    data = build()
    behind = read(with_table(data, entry(signature(digest_by_hand(data))) + b"\x01\0\0\0\0\0\0\0"))
    assert behind.value("signed_by") == SIGNED_BY
    assert codes(behind) == {"signature-damaged"}
    padded = read(with_table(data, entry(signature(digest_by_hand(data))) + bytes(64)))
    assert not codes(padded)


def test_a_table_inside_the_image():
    data = bytearray(signed_pe())
    table = entry(b"\x30\x03\x02\x01\x05")
    data[ENTRY.start : ENTRY.stop] = struct.pack("<II", 0x200, len(table))
    data[0x200 : 0x200 + len(table)] = table
    assert "signature-damaged" in codes(read(bytes(data)))


def test_bounds():
    many = [Made(OTHER, (OTHER.der,))] * (limits.MAX_SIGNATURES + 2)
    reading = read(signed_pe(*many))
    assert len(reading.parts) == reading.value("signature_count") == limits.MAX_SIGNATURES
    assert codes(reading) == {"too-many"}
    nested = signature(digest_by_hand(build()), Made(OTHER, (OTHER.der,)))
    nest = read(signed_pe(Made(unsigned=[attribute(NESTED, *[nested] * 30)])))
    assert len(nest.parts) == limits.MAX_SIGNATURES
    held = read(signed_pe(Made(certificates=(*CHAIN, *[OTHER.der] * 40))))
    assert codes(held) == {"too-many"}
    assert held.value("signed_by") == SIGNED_BY
    large = read(signed_pe(Made(certificates=(*CHAIN, b"\x04\x83\x10\0\0" + bytes(1 << 20)))))
    assert "too-many" in codes(large)
    assert large.value("signed_by") == ()


def test_proofs_are_counted(monkeypatch: pytest.MonkeyPatch):
    spent = []
    sound = certificates.Proofs.spend
    monkeypatch.setattr(certificates.Proofs, "spend", lambda self: (spent.append(1), sound(self))[1])
    same = who("Saltmarsh Root", 1)
    twins = tuple(who("Saltmarsh Root", 30 + one, key=OTHER.key).der for one in range(28))
    loop = Made(who("Corvane Firmware", 3, same), certificates=(who("Corvane Firmware", 3, same).der, *twins))
    started = time.perf_counter()
    reading = read(signed_pe(*[loop] * 16))
    assert time.perf_counter() - started < 5
    assert len(spent) > limits.MAX_PROOFS
    assert "signature-unchecked" in codes(reading)


def test_large_keys_are_left_alone(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(certificates, "MAX_KEY_BITS", 255)
    reading = read(signed_pe())
    assert reading.value("signed_by") == ()
    assert codes(reading) == {"signature-unchecked", "certificate-unchecked"}


def test_images_too_large_are_not_hashed(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(image_digest, "MAX_SIGNED_BYTES", 1000)
    reading = read(signed_pe())
    assert reading.value("digest_matches") is None
    assert reading.value("signed_by") == SIGNED_BY
    assert codes(reading) == {"signature-unchecked"}


def test_certificates_that_the_library_warns_of_or_refuses():
    """A serial number of 0 (RFC 5280 forbids it, and it is seen) is read without a word; a damaged one is counted."""
    raw = SIGNER.certificate.public_bytes(Encoding.DER)
    odd = raw.replace(b"\x02\x01\x03", b"\x02\x01\x00", 1)
    assert odd != raw
    reading = read(signed_pe(Made(certificates=(*CHAIN, odd))))
    assert not codes(reading)
    spoilt = read(signed_pe(Made(certificates=(*CHAIN, b"\x30\x03\x02\x01\x05"))))
    assert codes(spoilt) == {"certificate-unread"}
    assert spoilt.value("signed_by") == SIGNED_BY


def test_sections_over_one_another_are_not_hashed_for_ever():
    data = bytearray(build())
    count = 200
    head = OPTIONAL_AT + 240
    data[OPTIONAL_AT - 18 : OPTIONAL_AT - 16] = struct.pack("<H", count)
    row = data[head : head + 40]
    row[16:24] = struct.pack("<II", 0x10000, 0)
    data = data[:head] + row * count + bytes(0x10000)
    reading = read(with_table(bytes(data), entry(signature(bytes(32)))))
    assert reading.value("digest_matches") is None


@pytest.mark.parametrize("compression", [0, 1])
def test_a_damaged_table_is_no_damage_of_the_rom(compression: int):
    data = with_table(build(), struct.pack("<IHH", 7, 0x200, 2))
    whole = build_rom.rom(build_rom.efi(driver=data, blocks=4, compression=compression))
    (image,) = formats.read(BytesView(whole)).parts
    assert {one.code for one in image.parts[0].faults} == {"signature-damaged"}
    assert "rom-damaged" not in codes(image)
