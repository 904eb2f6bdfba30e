"""Detached OpenPGP signatures: by hand, and GnuPG's own against what GnuPG says of them."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue import formats
from catalogue.formats import limits, openpgp_packets, openpgp_signature
from catalogue.formats.openpgp_armour import BEGIN, END, MAX_NOTES, crc24
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.formats.build_detached import FINGERPRINT, armour, body, number, packet, subpacket


def read(data: bytes) -> Reading:
    reading = formats.read(BytesView(data))
    assert reading.kind == "signature/openpgp"
    return reading


@pytest.mark.parametrize("armoured", [False, True])
@pytest.mark.parametrize("old", [False, True])
def test_what_a_signature_says(armoured: bool, old: bool):
    data = packet(body(), old=old)
    reading = read(armour(data) if armoured else data)
    assert reading.title == f"OpenPGP signature by key {FINGERPRINT.hex().upper()}"
    assert reading.value("armoured") is armoured
    (part,) = reading.parts
    said = {one.name: one.value for one in part.fields}
    assert said["issuer_fingerprint"] == FINGERPRINT.hex()
    assert said["issuer_key_id"] == FINGERPRINT[-8:].hex()
    assert said["unsigned_names"] == ("issuer_key_id",)
    assert said["created"] == "2023-11-14T22:13:20+00:00"
    assert (said["version"], said["key_algorithm"], said["hash_algorithm"]) == (4, "EdDSA (legacy)", "sha512")
    assert said["signature_valid"] is None
    assert [one.code for one in part.notes] == ["signature-unchecked"]
    assert not reading.notes
    assert not reading.faults


def test_other_versions_and_algorithms():
    old = (
        b"\3\5\0" + (1_000_000_000).to_bytes(4, "big") + bytes(range(8)) + b"\1\2" + b"\xab\xcd" + number(b"\x77" * 256)
    )
    (part,) = read(packet(old)).parts
    assert part.value("issuer_key_id") == "0001020304050607"
    assert part.value("created") == "2001-09-09T01:46:40+00:00"
    assert (part.value("key_algorithm"), part.value("hash_algorithm")) == ("RSA", "sha1")
    for key, values in ((27, bytes(64)), (28, bytes(114)), (19, number(b"\x11" * 32) * 2)):
        data = packet(body(6, key=key, values=values), old=False)
        assert read(data).parts[0].value("version") == 6


def test_what_the_signer_adds():
    signed = subpacket(2, b"\0\0\0\1") + subpacket(3, b"\0\0\0\2") + subpacket(28, "Ines Åkerlund".encode())
    twice = subpacket(2, b"\0\0\0\5")
    (part,) = read(packet(body(signed=signed, unsigned=twice))).parts
    assert part.value("expires") == "1970-01-01T00:00:03+00:00"
    assert part.value("signer") == "Ines Åkerlund"
    assert part.value("created") == "1970-01-01T00:00:01+00:00"
    assert part.value("issuer_fingerprint") is None
    assert "a key it does not name" in part.title


def test_what_is_no_detached_signature():
    sound = packet(body())
    others = [
        sound[:-1],
        sound + b"\0",
        packet(body(kind=0x10)),  # certifies a key
        packet(body(version=5)),
        packet(body(key=99)),
        packet(body(hashed=4)),
        packet(body(values=number(b"\x55" * 32))),
        packet(body(signed=b"\x05\x02\0")),
        packet(body(6, key=27, values=bytes(64)).replace(bytes([32]) + bytes(32), bytes([16]) + bytes(32), 1)),
        b"\x88" * 200,
        b"\x89PNG\r\n\x1a\n" + bytes(100),
    ]
    for data in others:
        assert openpgp_signature.read(BytesView(data)) is None, data
        assert formats.read(BytesView(data)).kind == "opaque"


@given(st.binary(min_size=8, max_size=400), st.sampled_from([b"\x88", b"\x89", b"\x8a", b"\xc2"]))
def test_nothing_random_is_a_signature(data: bytes, first: bytes):
    assert openpgp_signature.read(BytesView(first + data)) is None


def test_damaged_armour():
    sound = armour(packet(body()))
    swapped = sound.replace(b"=", b"=", 1)
    bad_sum = re.sub(rb"\n=....\n", b"\n=AAAA\n", swapped)
    reading = read(bad_sum)
    assert [one.code for one in reading.notes] == ["armour-damaged"]
    assert len(reading.parts) == 1
    assert not read(re.sub(rb"\n=....\n", b"\n", sound)).notes
    assert [one.code for one in read(sound[:-30]).notes] == ["cut-short", "armour-damaged"]
    assert [one.code for one in read(sound.replace(b"iHU", b"i!U")).faults] == ["signature-damaged"]
    assert [one.code for one in read(armour(packet(body())[:-4])).faults] == ["signature-damaged"]
    assert [one.code for one in read(sound + b"more text\n").notes] == ["data-after-end"]
    assert not read(armour(packet(body()), "\r\n")).notes


def test_many():
    reading = read(armour(packet(body()) * 20))
    assert reading.value("signature_count") == 20
    assert len(reading.parts) == limits.MAX_SIGNATURES
    assert [one.code for one in reading.notes] == ["too-many"]
    assert len(read((BEGIN + b"\n\n!\n" + END) * 500).notes) == MAX_NOTES


def test_the_sum_of_the_standard():
    """CRC-24 of "123456789" is 21CF02h (the check value in common use for this polynomial; from memory)."""
    assert crc24(b"123456789") == 0x21CF02
    assert crc24(b"") == 0xB704CE


@pytest.mark.outside
@pytest.mark.parametrize("algorithm", ["rsa2048", "ed25519", "nistp256", "dsa2048"])
def test_gnupg(tmp_path: Path, algorithm: str):
    """GnuPG signs; `gpg --list-packets` says the same of it."""
    gpg = shutil.which("gpg")
    if gpg is None:
        pytest.skip("gpg is not here")
    home = tmp_path / "home"
    home.mkdir(mode=0o700)

    def run(*words: str) -> str:
        start = [gpg, "--homedir", str(home), "--batch", "--quiet", "--passphrase", "", "--pinentry-mode", "loopback"]
        done = subprocess.run([*start, *words], capture_output=True, text=True, cwd=tmp_path, check=False, timeout=120)
        if done.returncode:
            pytest.skip(f"gpg does not work here: {done.stderr.strip()[:200]}")
        return done.stdout

    try:
        run("--quick-generate-key", "Ines <ines@saltmarsh.example>", algorithm, "sign", "never")
        fingerprint = re.search(r"^fpr:+([0-9A-F]{40}):", run("--with-colons", "--list-keys"), re.M)
        assert fingerprint
        (tmp_path / "bundle").write_bytes(b"a bundle")
        for way in ([], ["--armor"]):
            run(*way, "--output", "sig", "--yes", "--detach-sign", "bundle")
            (part,) = read((tmp_path / "sig").read_bytes()).parts
            listed = run("--list-packets", "sig")
            assert part.value("issuer_fingerprint") == fingerprint[1].lower()
            assert f"keyid {str(part.value('issuer_key_id')).upper()}" in listed
            created = re.search(r"created (\d+)", listed)
            assert created
            assert part.value("created") == openpgp_signature._time(int(created[1]))
            number_of = {name: one for one, name in reversed(openpgp_packets.KEYS.items())}
            assert f"algo {number_of[str(part.value('key_algorithm'))]}," in listed
    finally:
        subprocess.run(["gpgconf", "--homedir", str(home), "--kill", "all"], check=False, capture_output=True)
