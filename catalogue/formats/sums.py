"""Sums over bytes, fast enough for whole images."""

from __future__ import annotations

from zlib import adler32

_STEP = 256
"""A run whose byte sum (at most 65,280) fits Adler's first half, which starts at 1 and counts modulo 65,521."""


def byte_sum(data: bytes) -> int:
    """The sum of all bytes, not reduced. RFC 1950 defines Adler-32: its low 16 bits are 1 + the sum, modulo 65,521."""
    window = memoryview(data)
    return sum((adler32(window[at : at + _STEP]) & 0xFFFF) - 1 for at in range(0, len(data), _STEP))
