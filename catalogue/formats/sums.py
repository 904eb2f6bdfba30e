"""Sums over bytes, fast enough for whole images."""

from __future__ import annotations

import struct
from zlib import adler32

_STEP = 256
"""A run whose byte sum (at most 65,280) fits Adler's first half, which starts at 1 and counts modulo 65,521."""


def byte_sum(data: bytes) -> int:
    """The sum of all bytes, modulo 65,536. RFC 1950: Adler-32's low 16 bits are 1 + the sum, modulo 65,521."""
    whole = len(data) // _STEP
    runs = struct.unpack_from(f"{_STEP}s" * whole, data)
    return (sum(map(adler32, runs)) - whole + sum(data[whole * _STEP :])) & 0xFFFF
