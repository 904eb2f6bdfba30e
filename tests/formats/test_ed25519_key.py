"""Ed25519 keys in text form: RFC 8032's own vectors, minisign and signify as signers, and everything damaged."""

from __future__ import annotations

import base64
import hashlib
from datetime import UTC, datetime
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.formats.signing_keys import MAX_KEY_BYTES, NotAKeyError, check, read_keys
from catalogue.shapes.signing import BROKEN, ED25519, HOLDS, OTHER, UNPROVED, Key
from tests.reference.signers import Minisign, Signify

NOW = datetime(2026, 6, 1, tzinfo=UTC)
NAME = bytes(range(1, 9))
DATA = b"firmware of a card" * 40

VECTORS = [
    (
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24"
        "655141438e7a100b",
    ),
    (
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aee"
        "b00d291612bb0c00",
    ),
    (
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28d"
        "c027beceea1ec40a",
    ),
]
"""RFC 8032, section 7.1, tests 1 to 3: public key, message, signature."""


def key_file(public: bytes, name: bytes = NAME) -> bytes:
    return b"untrusted comment: a maker's key\n" + base64.b64encode(b"Ed" + name + public) + b"\n"


def signature_file(
    signature: bytes, way: bytes = b"Ed", name: bytes = NAME, trusted: tuple[bytes, bytes] | None = None
) -> bytes:
    made = b"untrusted comment: signature\n" + base64.b64encode(way + name + signature) + b"\n"
    if trusted is not None:
        made += b"trusted comment: " + trusted[0] + b"\n" + base64.b64encode(trusted[1]) + b"\n"
    return made


def the_key(data: bytes) -> Key:
    (found,) = read_keys(data)
    assert found.kind == ED25519
    return found


def state(key: bytes, signature: bytes, data: bytes = DATA) -> str:
    return check(the_key(key), signature, data, NOW).state


@pytest.mark.parametrize(("public", "message", "signature"), VECTORS)
def test_vectors(public: str, message: str, signature: str):
    key, data = key_file(bytes.fromhex(public)), bytes.fromhex(message)
    assert state(key, signature_file(bytes.fromhex(signature)), data) == HOLDS
    assert state(key, signature_file(bytes.fromhex(signature)), data + b"x") == BROKEN
    assert state(key_file(bytes.fromhex(VECTORS[0][0])), signature_file(bytes.fromhex(VECTORS[1][2])), data) == BROKEN


def test_what_a_key_says():
    secret = Ed25519PrivateKey.generate()
    public = secret.public_key().public_bytes_raw()
    key = the_key(key_file(public))
    assert (key.holder, key.ids, key.expires, key.revoked) == ("a maker's key", ("0807060504030201",), "", False)
    assert key.fingerprint == hashlib.sha256(b"Ed" + NAME + public).hexdigest()
    alone = the_key(base64.b64encode(b"Ed" + NAME + public))  # the one line that makers print on a page
    assert (alone.fingerprint, alone.holder) == (key.fingerprint, "")


def test_both_ways_and_the_trusted_comment():
    secret = Ed25519PrivateKey.generate()
    key = key_file(secret.public_key().public_bytes_raw())
    plain, hashed = secret.sign(DATA), secret.sign(hashlib.blake2b(DATA).digest())
    note = b"timestamp:1700000000  file:fw.bin "
    assert state(key, signature_file(plain)) == HOLDS
    for way, made in ((b"Ed", plain), (b"ED", hashed)):
        sound = signature_file(made, way, trusted=(note, secret.sign(made + note)))
        assert state(key, sound) == HOLDS
        assert state(key, sound.replace(b"\n", b"\r\n")) == HOLDS
        assert state(key, sound, DATA + b"\n") == BROKEN
        assert state(key, sound.replace(b"fw.bin", b"fx.bin")) == UNPROVED
        assert state(key, sound + b"more\n") == UNPROVED
    assert state(key, signature_file(hashed, b"ED")) == UNPROVED  # minisign always writes the comment
    assert state(key, signature_file(plain, b"ED", trusted=(note, secret.sign(plain + note)))) == BROKEN
    assert state(key, signature_file(plain, name=bytes(8))) == OTHER


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "public key"),
        (b"untrusted comment: x\n", "no public key"),
        (b"untrusted comment: x\n" + base64.b64encode(b"Ed" + bytes(102)) + b"\n", "secret key"),
        (b"untrusted comment: x\n" + base64.b64encode(b"Ed" + bytes(156)) + b"\n", "secret key"),
        (key_file(bytes(32)) + b"another line\n", "no public key"),
        (signature_file(bytes(64)), "no public key"),
        (b"A" * (MAX_KEY_BYTES + 1), "longer than"),
    ],
)
def test_what_is_no_key(data: bytes, why: str):
    with pytest.raises(NotAKeyError, match=why):
        read_keys(data)


@pytest.mark.parametrize("way", [[], ["-l"]])
def test_minisign(tmp_path: Path, way: list[str]):
    """Debian's `minisign` signs, in its two forms; what it refuses we do not rely on."""
    program = Minisign(tmp_path)
    sound = program.sign(DATA, *way)
    assert state(program.public, sound) == HOLDS
    lines = sound.split(b"\n")
    mutants = [
        (sound, DATA + b"x"),
        (sound, DATA[:-1]),
        (sound.replace(b"Saltmarsh", b"Saltmarch"), DATA),
        (b"\n".join([*lines[:3], base64.b64encode(bytes(64)), b""]), DATA),
    ]
    for signature, data in mutants:
        assert not program.verifies(signature, data)
        assert state(program.public, signature, data) in (BROKEN, UNPROVED)
    assert program.verifies(sound, DATA)


def test_signify(tmp_path: Path):
    """Debian's `signify-openbsd` signs."""
    program = Signify(tmp_path)
    sound = program.sign(DATA)
    assert program.verifies(sound, DATA)
    assert state(program.public, sound) == HOLDS
    assert state(program.public, sound, DATA + b"x") == BROKEN
    with pytest.raises(NotAKeyError, match="secret"):
        read_keys((tmp_path / "s.sec").read_bytes())


SECRET = Ed25519PrivateKey.from_private_bytes(bytes(32))
SOUND = signature_file(SECRET.sign(DATA), trusted=(b"note", SECRET.sign(SECRET.sign(DATA) + b"note")))
KEY = the_key(key_file(SECRET.public_key().public_bytes_raw()))


@given(st.data())
@settings(max_examples=200)
def test_damage_never_holds_with_other_words(data: st.DataObject):
    """A changed byte makes the signature not hold, but in the comment that nothing covers and in line ends."""
    at = data.draw(st.integers(len(b"untrusted comment: signature\n"), len(SOUND) - 2))
    mutant = bytearray(SOUND)
    mutant[at] = data.draw(st.integers(0, 255).filter(lambda one: one != SOUND[at]))
    if check(KEY, bytes(mutant), DATA, NOW).state == HOLDS:
        lines, sound = bytes(mutant).split(b"\n"), SOUND.split(b"\n")
        assert base64.b64decode(lines[1]) == base64.b64decode(sound[1])
        assert lines[2] == sound[2]


@given(st.binary(max_size=300))
def test_any_bytes_are_answered(data: bytes):
    assert check(KEY, data, DATA, NOW).state in (OTHER, UNPROVED)
    assert check(KEY, b"untrusted comment:\n" + data, DATA, NOW).state in (OTHER, UNPROVED, BROKEN)
