"""Detached signatures by hand: OpenPGP packets (RFC 9580) and the text form of Ed25519 signatures."""

from __future__ import annotations

import base64

from catalogue.formats.openpgp_armour import crc24

FINGERPRINT = bytes(range(0x10, 0x24))


def subpacket(kind: int, body: bytes) -> bytes:
    length = len(body) + 1
    if length < 192:
        return bytes([length, kind]) + body
    return bytes([(length - 192 >> 8) + 192, length - 192 & 0xFF, kind]) + body


def number(raw: bytes) -> bytes:
    value = int.from_bytes(raw, "big")
    return value.bit_length().to_bytes(2, "big") + value.to_bytes((value.bit_length() + 7) // 8, "big")


def body(
    version: int = 4,
    kind: int = 0,
    signed: bytes = subpacket(33, b"\4" + FINGERPRINT) + subpacket(2, (1_700_000_000).to_bytes(4, "big")),
    unsigned: bytes = subpacket(16, FINGERPRINT[-8:]),
    key: int = 22,
    hashed: int = 10,
    values: bytes = number(b"\x55" * 32) * 2,
) -> bytes:
    width = 4 if version == 6 else 2
    lead = bytes([version, kind, key, hashed]) + len(signed).to_bytes(width, "big") + signed
    salt = bytes([32]) + bytes(32) if version == 6 else b""
    return lead + len(unsigned).to_bytes(width, "big") + unsigned + b"\xab\xcd" + salt + values


def packet(inside: bytes, *, old: bool = True) -> bytes:
    if old:
        return (
            b"\x88" + bytes([len(inside)]) + inside if len(inside) < 256 else b"\x89" + len(inside).to_bytes(2) + inside
        )
    lead = bytes([len(inside)]) if len(inside) < 192 else b"\xff" + len(inside).to_bytes(4)
    return b"\xc2" + lead + inside


def armour(packets: bytes, end: str = "\n") -> bytes:
    text = base64.b64encode(packets).decode()
    lines = [text[at : at + 64] for at in range(0, len(text), 64)]
    total = "=" + base64.b64encode(crc24(packets).to_bytes(3, "big")).decode()
    whole = [
        "-----BEGIN PGP SIGNATURE-----",
        "Comment: Saltmarsh College",
        "",
        *lines,
        total,
        "-----END PGP SIGNATURE-----",
        "",
    ]
    return end.join(whole).encode()


def ed25519(raw: bytes = b"ED" + bytes(range(8)) + bytes(64), *, trusted: bool = True, end: str = "\n") -> bytes:
    lines = ["untrusted comment: signature of a bundle", base64.b64encode(raw).decode()]
    if trusted:
        lines += ["trusted comment: file:bundle.zip", base64.b64encode(bytes(64)).decode()]
    return end.join([*lines, ""]).encode()
