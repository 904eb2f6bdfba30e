"""The packets that a detached OpenPGP signature consists of.

RFC 9580: 4.2 (packet headers), 5.2 (signature packets of versions 3, 4 and 6), 9 (algorithms).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from catalogue.formats.rows import printable

KEYS = {1: "RSA", 3: "RSA", 17: "DSA", 19: "ECDSA", 22: "EdDSA (legacy)", 27: "Ed25519", 28: "Ed448"}
"""RFC 9580, 9.1: the algorithms that sign."""
HASHES = {
    1: "md5",
    2: "sha1",
    3: "ripemd160",
    8: "sha256",
    9: "sha384",
    10: "sha512",
    11: "sha224",
    12: "sha3-256",
    14: "sha3-512",
}
"""RFC 9580, 9.5."""
_NUMBERS = {1: 1, 3: 1, 17: 2, 19: 2, 22: 2}
_OCTETS = {27: 64, 28: 114}
"""RFC 9580, 5.2.3.1 to 5.2.3.5: how many numbers, or how many octets, each algorithm's signature is."""
_SALTS = {8: 16, 9: 24, 10: 32, 11: 16, 12: 16, 14: 32}
"""RFC 9580, 9.5: octets of salt of a version 6 signature."""
TAG = 2
_CREATED, _EXPIRES, _ISSUER, _USER, _FINGERPRINT = 2, 3, 16, 28, 33
"""RFC 9580, 5.2.3.7."""
_FINGERPRINT_BYTES = {b"\4": 20, b"\6": 32}
_MAX_SUBPACKETS = 64


@dataclass(slots=True)
class SignaturePacket:
    """One signature packet. `start` and `end` count in the packets' bytes.

    `covered` are the bytes of the packet that are hashed behind the file's own and before those, the `salt`; `prefix`
    the first two octets that the digest is said to have. `bits` is how long its first number is, 0 where it has none.
    """

    start: int
    end: int
    version: int
    type: int
    key: int
    hash: int
    created: int | None = None
    lifetime: int = 0
    key_id: str = ""
    fingerprint: str = ""
    user: str = ""
    covered: bytes = b""
    salt: bytes = b""
    prefix: bytes = b""
    bits: int = 0
    unsigned: list[str] = field(default_factory=list)


class DamagedError(ValueError):
    """The bytes are no signature packet."""


def packets(data: bytes) -> Iterator[SignaturePacket]:
    """The signature packets that fill `data`. Raises DamagedError or IndexError."""
    at = 0
    while at < len(data):
        tag, body, end = header(data, at)
        if end > len(data):
            raise DamagedError("a packet leads past the end")
        if tag != TAG:
            raise DamagedError(f"a packet of type {tag} stands where a signature should")
        yield _signature(data[:end], at, body)
        at = end


def header(data: bytes, at: int) -> tuple[int, int, int]:
    """A packet's type, where its body starts and where it ends (RFC 9580, 4.2). Raises DamagedError."""
    first = data[at]
    lead = data[at + 1 : at + 6]
    if not first & 0x80 or len(lead) < 5:
        raise DamagedError("no packet stands where one should")
    if first & 0x40:
        tag, (width, length) = first & 0x3F, _new_length(lead, 224)
    elif first & 3 == 3:
        raise DamagedError("a packet of no given length")
    else:
        tag, width = first >> 2 & 0x0F, 1 << (first & 3)
        length = int.from_bytes(lead[:width], "big")
    return tag, at + 1 + width, at + 1 + width + length


def _new_length(lead: bytes, two: int) -> tuple[int, int]:
    """How many octets a length takes, and the length (RFC 9580, 4.2.1 and 5.2.3.7); below `two` it takes at most 2.

    Raises DamagedError.
    """
    first = lead[0]
    if first < 192:
        return 1, first
    if first < two:
        return 2, (first - 192 << 8) + lead[1] + 192
    if first == 255:
        return 5, int.from_bytes(lead[1:5], "big")
    raise DamagedError("a packet in pieces")


def _signature(data: bytes, start: int, at: int) -> SignaturePacket:
    """The signature whose body starts at `at` and ends with `data`. Raises DamagedError or IndexError."""
    version = data[at]
    if version == 3:
        if data[at + 1] != 5:
            raise DamagedError("a version 3 signature of another form")
        one = SignaturePacket(start, len(data), 3, data[at + 2], data[at + 15], data[at + 16])
        one.created, one.key_id = int.from_bytes(data[at + 3 : at + 7], "big"), data[at + 7 : at + 15].hex()
        one.covered = data[at + 2 : at + 7]
        at += 17
    elif version in (4, 6):
        one = SignaturePacket(start, len(data), version, data[at + 1], data[at + 2], data[at + 3])
        body, at = at, at + 4
        for signed in (True, False):
            width = 4 if version == 6 else 2
            length = int.from_bytes(data[at : at + width], "big")
            at += width
            if at + length > len(data):
                raise DamagedError("subpackets lead past the end")
            _subpackets(one, data[at : at + length], signed)
            at += length
            if signed:
                # RFC 9580, 5.2.4: what is hashed of the packet ends with its version, FFh and its own length.
                one.covered = data[body:at] + bytes([version, 0xFF]) + (at - body).to_bytes(4, "big")
    else:
        raise DamagedError(f"a signature of version {version}")
    if one.key not in KEYS or one.hash not in HASHES:
        raise DamagedError(f"algorithms {one.key} and {one.hash} are not known")
    one.prefix = data[at : at + 2]
    at += 2
    if version == 6:
        if data[at] != _SALTS.get(one.hash):
            raise DamagedError("a salt of the wrong length")
        one.salt = data[at + 1 : at + 1 + data[at]]
        at += 1 + data[at]
    one.bits = int.from_bytes(data[at : at + 2], "big") if one.key in _NUMBERS else 0
    if _value_end(data, at, one.key) != len(data):
        raise DamagedError("the signature's numbers do not fill its packet")
    return one


def _value_end(data: bytes, at: int, key: int) -> int:
    """Where the signature's own numbers end. Raises IndexError."""
    for _ in range(_NUMBERS.get(key, 0)):
        bits = data[at] << 8 | data[at + 1]
        at += 2 + (bits + 7) // 8
    return at + _OCTETS.get(key, 0)


def _subpackets(one: SignaturePacket, data: bytes, signed: bool) -> None:
    """Take over what subpackets say; of what stands twice the signed counts. Raises DamagedError or IndexError."""
    at = count = 0
    while at < len(data):
        width, length = _new_length(data[at : at + 5], 255)
        kind, body = data[at + width] & 0x7F, data[at + width + 1 : at + width + length]
        at += width + length
        count += 1
        if at > len(data) or not length or count > _MAX_SUBPACKETS:
            raise DamagedError("subpackets that do not add up")
        name = ""
        if kind == _CREATED and len(body) == 4 and one.created is None:
            one.created, name = int.from_bytes(body, "big"), "created"
        elif kind == _EXPIRES and len(body) == 4 and not one.lifetime:
            one.lifetime, name = int.from_bytes(body, "big"), "expires"
        elif kind == _ISSUER and len(body) == 8 and not one.key_id:
            one.key_id, name = body.hex(), "issuer_key_id"
        elif kind == _USER and not one.user:
            one.user, name = _text(body), "signer"
        elif kind == _FINGERPRINT and not one.fingerprint and len(body) - 1 == _FINGERPRINT_BYTES.get(body[:1]):
            one.fingerprint, name = body[1:].hex(), "issuer_fingerprint"
        if name and not signed:
            one.unsigned.append(name)


def _text(raw: bytes) -> str:
    try:
        return raw[:512].decode("utf-8")
    except UnicodeDecodeError:
        return printable(raw[:512])
