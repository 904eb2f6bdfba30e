"""Controller firmware: opaque to any published format, with the texts by which its family knows it."""

from __future__ import annotations

import struct
from zlib import crc32

from sample_bundles.noise import noise


def firmware(texts: tuple[str, ...], packed: int, size: int, label: str) -> bytes:
    """`size` bytes: a header (own magic, packed version, length and CRC-32 of the body), texts, code, FFh fill."""
    words = b"".join(text.encode("ascii") + b"\0" for text in texts)
    body = words.ljust(256, b"\0") + noise(label, size * 7 // 8 - 320)
    header = b"\x13QV\xd7" + struct.pack("<IIII", packed, len(body), crc32(body), 0x2000_0000)
    return (header.ljust(64, b"\0") + body).ljust(size, b"\xff")
