"""Signatures beside files, for the readers' battery."""

from __future__ import annotations

from tests.contracts.sample import Sample
from tests.formats.build_detached import armour, body, ed25519, packet

SAMPLES: tuple[Sample, ...] = (
    Sample("openpgp-signature", "binary, old header", "signature/openpgp", packet(body())),
    Sample("openpgp-signature", "version 6", "signature/openpgp", packet(body(6, key=27, values=bytes(64)), old=False)),
    Sample("openpgp-signature", "armoured, two", "signature/openpgp", armour(packet(body()) * 2)),
    Sample("ed25519-signature", "four lines", "signature/ed25519", ed25519()),
    Sample(
        "ed25519-signature", "two lines", "signature/ed25519", ed25519(b"Ed" + bytes(72), trusted=False, end="\r\n")
    ),
)
