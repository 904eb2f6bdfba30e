"""The text form of OpenPGP: base64 between two lines, with a sum.

RFC 9580, section 6.
"""

from __future__ import annotations

import base64
import binascii
from dataclasses import dataclass

from catalogue.shapes.reading import Fault

BEGIN, END = b"-----BEGIN PGP SIGNATURE-----", b"-----END PGP SIGNATURE-----"
MAX_NOTES = 20
_START, _POLYNOMIAL = 0xB704CE, 0x864CFB
"""RFC 9580, 6.1: CRC-24."""


@dataclass(frozen=True, slots=True)
class Armour:
    """The bytes inside the armour, and what is odd about it."""

    packets: bytes
    notes: tuple[Fault, ...]


def unarmour(data: bytes) -> Armour:
    """The bytes of every armoured signature in `data`, which begins with one; what cannot be decoded is left out."""
    packets = b""
    notes: list[Fault] = []
    rest = data
    while True:
        _, begin, rest = rest.partition(BEGIN)
        if not begin:
            return Armour(packets, tuple(notes[:MAX_NOTES]))
        body, end, rest = rest.partition(END)
        if not end:
            notes.append(Fault("cut-short", "The armour has no last line."))
        raw, note = _body(body)
        packets += raw
        if note:
            notes.append(Fault("armour-damaged", note))
        if rest.strip() and BEGIN not in rest:
            notes.append(Fault("data-after-end", "Text stands behind the signature.", len(data) - len(rest)))


def _body(body: bytes) -> tuple[bytes, str]:
    """The bytes of one armoured block, and what is wrong with it ("" for nothing)."""
    lines = body.replace(b"\r", b"").split(b"\n")[1:]
    blank = next((number for number, line in enumerate(lines) if not line.strip()), None)
    lines = [line.strip() for line in (lines if blank is None else lines[blank + 1 :]) if line.strip()]
    stated = lines.pop()[1:] if lines and lines[-1].startswith(b"=") and len(lines[-1]) == 5 else b""
    try:
        raw = base64.b64decode(b"".join(lines), validate=True)
        wanted = int.from_bytes(base64.b64decode(stated, validate=True), "big") if stated else None
    except (binascii.Error, ValueError):
        return b"", "The armour is not base64."
    # RFC 9580, 6.1: a wrong sum must not make a reader refuse what is inside.
    return raw, "" if wanted is None or wanted == crc24(raw) else "The armour's sum does not fit its bytes."


def crc24(data: bytes) -> int:
    """The armour's sum over the bytes inside."""
    crc = _START
    for byte in data:
        crc ^= byte << 16
        for _ in range(8):
            crc = crc << 1 ^ (_POLYNOMIAL if crc & 0x800000 else 0)
        crc &= 0xFFFFFF
    return crc
