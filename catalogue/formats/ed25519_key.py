"""Ed25519 keys in text form, and the signatures by them: what minisign and OpenBSD's signify write.

minisign's published format ("Signature format", "Public key format"), signify(1): two letters "Ed", eight bytes by
which signatures name the key, 32 bytes of key. RFC 8032, 5.1 (Ed25519); RFC 7693 (BLAKE2b, of which the "ED" form signs
the 512-bit digest). The cryptography is PyPI `cryptography`'s and hashlib's.
"""

from __future__ import annotations

import hashlib

from catalogue.formats.ed25519_signature import (
    SECOND_BYTES,
    SIGNATURE_BYTES,
    TRUSTED,
    UNTRUSTED,
    decoded,
    lines_of,
)
from catalogue.formats.signing_keys import NotAKeyError
from catalogue.shapes.signing import BROKEN, ED25519, HOLDS, OTHER, UNPROVED, Key, Verdict

KEY_BYTES = 2 + 8 + 32
PLAIN, HASHED = b"Ed", b"ED"
_SECRET_BYTES = (104, 158)
"""What secret keys of signify and minisign are long, decoded."""
_MAX_HOLDER, _MAX_LINE = 200, 1_000


def read(data: bytes) -> Key | None:
    """The key that fills `data`, with its comment line or without; None where it is something else.

    Raises NotAKeyError for a secret key.
    """
    lines = [line.strip() for _at, line in lines_of(data)]
    said = lines.pop(0)[len(UNTRUSTED) :] if data.startswith(UNTRUSTED) else b""
    raw = decoded(lines[0]) if lines and len(lines[0]) <= _MAX_LINE else b""
    if len(raw) in _SECRET_BYTES and raw[:2] == PLAIN:
        raise NotAKeyError("it is a secret key; record the public one, and keep this one to its owner")
    if len(raw) != KEY_BYTES or raw[:2] != PLAIN or any(lines[1:]):
        return None
    name = f"{int.from_bytes(raw[2:10], 'little'):016x}"
    holder = said.strip().decode("utf-8", "replace")[:_MAX_HOLDER]
    return Key(ED25519, hashlib.sha256(raw).hexdigest(), holder, (name,), raw)


def check(key: Key, signature: bytes, data: bytes) -> Verdict:
    """What `key` says of `signature` beside `data`."""
    lines = [line for _at, line in lines_of(signature)]
    raw = decoded(lines[1]) if len(lines) > 1 and lines[0].startswith(UNTRUSTED) else b""
    if len(raw) != SIGNATURE_BYTES or raw[2:10] != key.body[2:10]:
        return Verdict(OTHER, "It names another key.")
    if raw[:2] not in (PLAIN, HASHED):
        return Verdict(UNPROVED, "It is made in a way that is not known.")
    signed = data if raw[:2] == PLAIN else hashlib.blake2b(data).digest()
    how = "sha512" if raw[:2] == PLAIN else "blake2b-512"
    if not _made(key, raw[10:], signed):
        return Verdict(BROKEN, "The key did not sign these bytes.", how)
    behind = [line for line in lines[2:] if line.strip()]
    if not behind and raw[:2] == PLAIN:
        return Verdict(HOLDS, "", how)
    second = decoded(behind[1]) if len(behind) == 2 and behind[0].startswith(TRUSTED + b" ") else b""
    if len(second) != SECOND_BYTES or not _made(key, second, raw[10:] + behind[0][len(TRUSTED) + 1 :]):
        return Verdict(UNPROVED, "Its trusted comment is not the one that was signed, or is not there.", how)
    return Verdict(HOLDS, "", how)


def _made(key: Key, signature: bytes, signed: bytes) -> bool:
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        Ed25519PublicKey.from_public_bytes(key.body[10:]).verify(signature, signed)
    except (InvalidSignature, ValueError):
        return False
    return True
