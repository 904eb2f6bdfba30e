"""OpenPGP certificates and signatures: RFC 9580's samples, GnuPG as the signer, and all that must not be relied on."""

from __future__ import annotations

import base64
import re
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.formats import checksum_list, openpgp_key
from catalogue.formats.openpgp_packets import packets
from catalogue.formats.signing_keys import NotAKeyError, best, check, read_keys
from catalogue.shapes.signing import BROKEN, HOLDS, OPENPGP, OTHER, UNPROVED, Key, Verdict
from tests.formats.build_detached import armour
from tests.reference import signers
from tests.reference.signers import Gpg

DATA = bytes(range(256)) * 9
CERTIFICATE = """-----BEGIN PGP PUBLIC KEY BLOCK-----

xioGY4d/4xsAAAAg+U2nu0jWCmHlZ3BqZYfQMxmZu52JGggkLq2EVD34laPCsQYf
GwoAAABCBYJjh3/jAwsJBwUVCg4IDAIWAAKbAwIeCSIhBssYbE8GCaaX5NUt+mxy
KwwfHifBilZwj2Ul7Ce62azJBScJAgcCAAAAAK0oIBA+LX0ifsDm185Ecds2v8lw
gyU2kCcUmKfvBXbAf6rhRYWzuQOwEn7E/aLwIwRaLsdry0+VcallHhSu4RN6HWaE
QsiPlR4zxP/TP7mhfVEe7XWPxtnMUMtf15OyA51YBM4qBmOHf+MZAAAAIIaTJINn
+eUBXbki+PSAld2nhJh/LVmFsS+60WyvXkQ1wpsGGBsKAAAALAWCY4d/4wKbDCIh
BssYbE8GCaaX5NUt+mxyKwwfHifBilZwj2Ul7Ce62azJAAAAAAQBIKbpGG2dWTX8
j+VjFM21J0hqWlEg+bdiojWnKfA5AQpWUWtnNwDEM0g12vYxoWM8Y81W+bHBw805
I8kWVkXU6vFOi+HWvv/ira7ofJu16NnoUkhclkUrk0mXubZvyl4GBg==
-----END PGP PUBLIC KEY BLOCK-----
"""
"""RFC 9580, appendix A.3."""
CLEAR = """-----BEGIN PGP SIGNED MESSAGE-----

What we need from the grocery store:

- - tofu
- - vegetables
- - noodles

-----BEGIN PGP SIGNATURE-----

wpgGARsKAAAAKQWCY5ijYyIhBssYbE8GCaaX5NUt+mxyKwwfHifBilZwj2Ul7Ce6
2azJAAAAAGk2IHZJX1AhiJD39eLuPBgiUU9wUA9VHYblySHkBONKU/usJ9BvuAqo
/FvLFuGWMbKAdA+epq7V4HOtAPlBWmU8QOd6aud+aSunHQaaEJ+iTFjP2OMW0KBr
NK2ay45cX1IVAQ==
-----END PGP SIGNATURE-----
"""
"""RFC 9580, appendix A.6."""


def now() -> datetime:
    return datetime.now(UTC)


def one_key(data: bytes) -> Key:
    (found,) = read_keys(data)
    assert found.kind == OPENPGP
    return found


@pytest.fixture(scope="module")
def gpg() -> Iterator[Gpg]:
    with tempfile.TemporaryDirectory(prefix="kg") as folder, signers.gpg(Path(folder)) as made:
        yield made


@pytest.fixture(scope="module")
def maker(gpg: Gpg) -> str:
    return gpg.key("Corvane releases")


def test_the_standards_samples():
    key = one_key(CERTIFICATE.encode())
    assert key.fingerprint == "cb186c4f0609a697e4d52dfa6c722b0c1f1e27c18a56708f6525ec27bad9acc9"
    found = checksum_list.signature_packets(CLEAR.encode())
    verdict, text = openpgp_key.check_clear(key, CLEAR.encode(), found, now())
    assert verdict.state == HOLDS
    assert text.splitlines() == [b"What we need from the grocery store:", b"", b"- tofu", b"- vegetables", b"- noodles"]
    other = CLEAR.replace("tofu", "tufo").encode()
    assert openpgp_key.check_clear(key, other, found, now()) == (
        Verdict(BROKEN, "The key did not sign this text.", "sha512"),
        b"",
    )


def test_what_a_certificate_says(gpg: Gpg, maker: str):
    key = one_key(gpg.public(maker))
    assert key.fingerprint == maker
    assert {maker, maker[-16:]} <= set(key.ids)
    assert (key.holder, key.expires, key.revoked) == ("Corvane releases <corvane@saltmarsh.example>", "", False)
    assert one_key(gpg.run("--armor", "--export", maker)) == key
    both = gpg.public(maker) + gpg.public(gpg.key("Brinewell releases"))
    assert len(read_keys(both)) == 2


@pytest.mark.parametrize("kind", ["ed25519", "nistp256", "rsa2048"])
def test_sound_signatures(gpg: Gpg, tmp_path: Path, kind: str):
    by = gpg.key(f"Signer{kind} one", kind)
    key = one_key(gpg.public(by))
    for digest in ("SHA256", "SHA384", "SHA512"):
        signature = gpg.sign(DATA, by, "--digest-algo", digest)
        assert gpg.verifies(signature, DATA, tmp_path)
        for file in (signature, armour(signature)):
            assert check(key, file, DATA, now()) == Verdict(HOLDS, "", digest.lower())
            assert check(key, file, DATA + b"x", now()).state == BROKEN


def test_a_subkey_signs(gpg: Gpg, tmp_path: Path):
    by = gpg.key("Subkeyed one", use="cert")
    gpg.run("--quick-add-key", by, "ed25519", "sign", "never")
    signature = gpg.sign(DATA, by)
    (packet,) = packets(signature)
    assert packet.fingerprint != by
    assert check(one_key(gpg.public(by)), signature, DATA, now()).state == HOLDS
    assert gpg.verifies(signature, DATA, tmp_path)


def test_another_key(gpg: Gpg, maker: str):
    other = gpg.key("Somebody else")
    assert check(one_key(gpg.public(maker)), gpg.sign(DATA, other), DATA, now()).state == OTHER


def test_two_signers(gpg: Gpg, maker: str):
    other = gpg.key("Second signer")
    both = gpg.sign(DATA, maker) + gpg.sign(DATA, other)
    wrong = gpg.sign(DATA + b"x", maker) + gpg.sign(DATA, other)
    for public, of in ((maker, both), (other, both), (other, wrong)):
        assert check(one_key(gpg.public(public)), of, DATA, now()).state == HOLDS
    assert check(one_key(gpg.public(maker)), wrong, DATA, now()).state == BROKEN


def test_so_many_signatures_of_one_file(gpg: Gpg, maker: str, monkeypatch: pytest.MonkeyPatch):
    both = gpg.sign(DATA, gpg.key("First of two")) + gpg.sign(DATA, maker)
    key = one_key(gpg.public(maker))
    assert check(key, both, DATA, now()).state == HOLDS
    monkeypatch.setattr(openpgp_key, "MAX_SIGNATURES", 1)
    assert check(key, both, DATA, now()).state == OTHER


@pytest.mark.parametrize("digest", ["SHA1", "RIPEMD160"])
def test_weak_digests(gpg: Gpg, maker: str, digest: str):
    """GnuPG 2.2 still takes SHA-1; the library and we do not."""
    signature = gpg.sign(DATA, maker, "--digest-algo", digest, "--allow-weak-digest-algos")
    verdict = check(one_key(gpg.public(maker)), signature, DATA, now())
    assert verdict.state == UNPROVED
    assert digest.lower() in verdict.why


def test_signed_as_text(gpg: Gpg, maker: str):
    """It does not cover line ends, so it is enough for a list and no more."""
    key, text = one_key(gpg.public(maker)), b"a line\nanother\n"
    signature = gpg.sign(text, maker, "--textmode")
    assert check(key, signature, text, now()).state == UNPROVED
    assert check(key, signature, text, now(), text=True).state == HOLDS
    assert check(key, signature, text.replace(b"\n", b"\r\n"), now(), text=True).state == HOLDS
    assert check(key, signature, text + b"more\n", now(), text=True).state == BROKEN


def test_expired(gpg: Gpg):
    """A key that has expired, or a signature that has: no verdict, and none before bytes that differ."""
    by = gpg.key("Short lived", "ed25519", "sign", "2030-01-01")
    key = one_key(gpg.public(by))
    signature = gpg.sign(DATA, by, "--default-sig-expire", "10")
    assert key.expires[:4] in ("2029", "2030")
    verdict = check(key, signature, DATA, now())
    assert verdict.state == HOLDS
    assert now() + timedelta(days=9) < datetime.fromisoformat(verdict.until) < now() + timedelta(days=11)
    late = check(key, signature, DATA, now() + timedelta(days=12))
    assert (late.state, late.why[:21]) == (UNPROVED, "The signature expired")
    later = check(key, gpg.sign(DATA, by), DATA, datetime(2030, 6, 1, tzinfo=UTC))
    assert (later.state, later.why[:15]) == (UNPROVED, "The key expired")


def test_made_while_the_key_was_expired(gpg: Gpg):
    """Signed with a clock set forward: the signature says it was made in the future."""
    by = gpg.key("Early bird")
    signature = gpg.sign(DATA, by, "--faked-system-time", "20400101T000000!")
    verdict = check(one_key(gpg.public(by)), signature, DATA, now())
    assert verdict.state == UNPROVED
    assert "future" in verdict.why


def test_revoked(gpg: Gpg):
    by = gpg.key("Turned away")
    before, signature = gpg.public(by), gpg.sign(DATA, by)
    revocation = (gpg.home / "openpgp-revocs.d" / f"{by.upper()}.rev").read_text()
    gpg.run("--import", data=re.sub(r"^:-----BEGIN", "-----BEGIN", revocation, flags=re.M).encode())
    after = gpg.public(by)
    key = one_key(after)
    assert key.revoked
    assert check(one_key(before), signature, DATA, now()).state == HOLDS
    assert check(key, signature, DATA, now()).state == UNPROVED
    # Recorded again without the revocation, it stays revoked.
    assert openpgp_key.merged(after, before).revoked
    assert openpgp_key.merged(before, after).revoked


def test_a_key_for_another_purpose(gpg: Gpg):
    """The key did make the signature, and its certificate gives it another use: it says nothing of the bytes."""
    by = gpg.key("Certifier only", "ed25519", "cert")
    gpg.run("--quick-add-key", by, "ed25519", "sign", "never")
    signature = gpg.sign(DATA, by)
    assert check(one_key(gpg.public(by)), signature, DATA, now()).state == HOLDS
    words = b"key 1\nchange-usage\nS\nA\nQ\nsave\n"
    gpg.run("--expert", "--command-fd", "0", "--edit-key", by, data=words)
    key = one_key(gpg.public(by))
    verdict = check(key, signature, DATA, now())
    assert (verdict.state, verdict.why) == (UNPROVED, "The key that made it was not made for signing files.")
    assert check(key, signature, DATA + b"x", now()).state == BROKEN


def test_small_keys(gpg: Gpg):
    """RSA of 1,024 bits: the library refuses it, and that is no word against the bytes."""
    with pytest.raises(NotAKeyError, match="not to be relied on"):
        read_keys(gpg.public(gpg.key("Old maker", "rsa1024")))
    by = gpg.key("Careless maker", "ed25519", "cert")
    gpg.run("--quick-add-key", by, "rsa1024", "sign", "never")
    verdict = check(one_key(gpg.public(by)), gpg.sign(DATA, by, "--digest-algo", "SHA256"), DATA, now())
    assert (verdict.state, verdict.why) == (UNPROVED, "The key that made it is too weak to be relied on.")


def test_what_is_no_public_key(gpg: Gpg, maker: str):
    with pytest.raises(NotAKeyError, match="secret key"):
        read_keys(gpg.run("--export-secret-keys", maker))
    for data in (b"", b"text", DATA, gpg.sign(DATA, maker), CLEAR.encode(), gpg.public(maker)[:40]):
        with pytest.raises(NotAKeyError):
            read_keys(data)


def test_too_many_keys(gpg: Gpg, maker: str, monkeypatch: pytest.MonkeyPatch):
    both = gpg.public(maker) + gpg.public(gpg.key("One too many"))
    monkeypatch.setattr(openpgp_key, "MAX_KEYS", 1)
    with pytest.raises(NotAKeyError, match="more than 1 keys"):
        read_keys(both)
    monkeypatch.setattr(openpgp_key, "_MAX_PACKETS", 2)
    with pytest.raises(NotAKeyError, match="more than 2 packets"):
        read_keys(both)


def test_truncated(gpg: Gpg, maker: str):
    key, signature = one_key(gpg.public(maker)), gpg.sign(DATA, maker)
    for end in range(len(signature)):
        assert check(key, signature[:end], DATA, now()).state in (UNPROVED, OTHER)
    text = armour(signature)
    for end in range(len(text) - 60):
        assert check(key, text[:end], DATA, now()).state in (UNPROVED, OTHER, BROKEN)


def test_every_bit_of_a_signature(gpg: Gpg, maker: str):
    """A flipped bit outside what the signature leaves uncovered makes it not hold."""
    key, signature = one_key(gpg.public(maker)), gpg.sign(DATA, maker)
    (packet,) = packets(signature)
    unsigned = signature.index(bytes.fromhex(maker[-16:]), len(packet.covered) - 4)
    for at in range(len(signature)):
        mutant = bytearray(signature)
        mutant[at] ^= 1 << at % 8
        verdict = check(key, bytes(mutant), DATA, now())
        assert verdict.state != HOLDS or unsigned - 4 <= at < unsigned + 8, at


@given(st.binary(max_size=400))
@settings(max_examples=100)
def test_any_bytes_are_answered(data: bytes):
    key = one_key(CERTIFICATE.encode())
    assert check(key, data, DATA, now()).state in (OTHER, UNPROVED)
    framed = b"-----BEGIN PGP SIGNATURE-----\n\n" + base64.b64encode(data) + b"\n-----END PGP SIGNATURE-----\n"
    assert check(key, framed, DATA, now()).state in (OTHER, UNPROVED)


def test_best_of_several():
    holds, longer = Verdict(HOLDS, until="2027"), Verdict(HOLDS)
    broken, unproved = Verdict(BROKEN), Verdict(UNPROVED)
    assert best([broken, holds, longer, unproved]) == longer
    assert best([unproved, broken]) == broken
    assert best([]).state == OTHER
