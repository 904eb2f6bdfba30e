"""Bytes without a pattern that are the same on every machine: SHA-256 (FIPS 180-4) over a label and a counter."""

from __future__ import annotations

from hashlib import sha256


def noise(label: str, length: int) -> bytes:
    """`length` bytes that depend on `label` alone."""
    seed = label.encode()
    blocks = (sha256(seed + number.to_bytes(8, "little")).digest() for number in range(-(-length // 32)))
    return b"".join(blocks)[:length]
