"""Capsules for tests, from the UEFI Specification (8.5.3.1, 23.3.2); the reader has no part in it."""

from __future__ import annotations

import struct
import uuid
from dataclasses import dataclass

MANAGEMENT = "6dcbd5ed-e82d-4c44-bda1-7194199ad92a"
IMAGE_TYPE = "f2340010-0001-4002-8003-000000000064"
"""Invented."""


@dataclass(frozen=True)
class Payload:
    image: bytes = b"\x80firmware"
    version: int = 3
    own: bytes = b""
    index: int = 1
    instance: int = 0
    capabilities: int = 0
    size: int | None = None


@dataclass(frozen=True)
class Made:
    guid: str = MANAGEMENT
    header: int = 0x1C
    flags: int = 0x50000
    drivers: tuple[bytes, ...] = ()
    payloads: tuple[Payload, ...] = (Payload(),)
    content: bytes | None = None
    size: int | None = None
    behind: bytes = b""
    list_version: int = 1
    offsets: tuple[int, ...] | None = None


def payload(one: Payload) -> bytes:
    size = len(one.image) if one.size is None else one.size
    head = struct.pack("<I", one.version) + uuid.UUID(IMAGE_TYPE).bytes_le
    head += struct.pack("<B3xII", one.index, size, len(one.own))
    if one.version >= 2:
        head += struct.pack("<Q", one.instance)
    if one.version >= 3:
        head += struct.pack("<Q", one.capabilities)
    return head + one.image + one.own


def items(made: Made) -> bytes:
    bodies = [*made.drivers, *map(payload, made.payloads)]
    at = 8 + 8 * len(bodies)
    offsets = []
    for body in bodies:
        offsets.append(at)
        at += len(body)
    offsets = list(made.offsets or offsets)
    head = struct.pack("<IHH", made.list_version, len(made.drivers), len(made.payloads))
    return head + struct.pack(f"<{len(offsets)}Q", *offsets) + b"".join(bodies)


def capsule(made: Made | None = None) -> bytes:
    made = made or Made()
    content = items(made) if made.content is None else made.content
    size = made.header + len(content) if made.size is None else made.size
    head = uuid.UUID(made.guid).bytes_le + struct.pack("<III", made.header, made.flags, size)
    return head.ljust(made.header, b"\0") + content + made.behind


def signed(body: bytes, signature: bytes = b"\x30\x03\x02\x01\x00", count: int = 7) -> bytes:
    """`body` behind an authentication header (23.1) with a certificate of type PKCS#7."""
    guid = uuid.UUID("4aafd29d-68df-49ee-8aa9-347d375665a7").bytes_le
    return struct.pack("<QIHH", count, 24 + len(signature), 0x200, 0x0EF1) + guid + signature + body


def edk2_header(version: int, lowest: int, body: bytes) -> bytes:
    return b"MSS1" + struct.pack("<III", 16, version, lowest) + body
