"""PLDM packages for tests, from DSP0267 (the tables of the package header); the reader has no part in it."""

from __future__ import annotations

import struct
from dataclasses import dataclass, field, replace

UUIDS = {
    1: "f018878c-cb7d-4943-9800-a02f059aca02",
    2: "1244d264-8d7d-4718-a030-fc8a56587d5a",
    3: "3119ce2f-e80a-4a99-af6d-46f8b121f6bf",
    4: "7b291c99-6db6-4208-801b-02026e463c78",
}
ENTERPRISE = 32473
"""RFC 5612: for documentation."""


def crc(data: bytes) -> int:
    """CRC-32 as DSP0267 names it (IEEE 802.3, reflected, 04C11DB7h), bit by bit."""
    value = 0xFFFFFFFF
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ (0xEDB88320 if value & 1 else 0)
    return value ^ 0xFFFFFFFF


@dataclass(frozen=True)
class Device:
    descriptors: tuple[tuple[int, bytes], ...] = ((0x0000, b"\x34\xf2"), (0x0100, b"\x64\x00"))
    options: int = 1
    version: bytes = b"set 7"
    kind: int = 1
    bitmap: int = 1
    data: bytes = b""
    manifest: bytes = b""
    stamp: int | None = None
    longer: int = 0


@dataclass(frozen=True)
class Component:
    data: bytes = b"component bytes"
    version: bytes = b"12.04.0"
    kind: int = 1
    classification: int = 10
    identifier: int = 7
    stamp: int = 0xFFFFFFFF
    options: int = 0
    activation: int = 0
    opaque: bytes = b""
    location: int | None = None
    size: int | None = None


@dataclass(frozen=True)
class Made:
    revision: int = 1
    uuid: str = ""
    date: bytes = bytes.fromhex("3c0040e2013b3a171f0cea0700")
    bits: int = 8
    version: bytes = b"Heron 12.04"
    kind: int = 1
    devices: tuple[Device, ...] = (Device(),)
    downstream: tuple[Device, ...] = ()
    components: tuple[Component, ...] = (Component(),)
    longer: int = 0
    extra: bytes = b""
    header_crc: int | None = None
    payload_crc: int | None = None
    behind: bytes = b""
    before: bytes = b""
    set: dict[int, bytes] = field(default_factory=dict)


def record(one: Device, made: Made, downstream: bool) -> bytes:
    body = struct.pack("<BIBBH", len(one.descriptors), one.options, one.kind, len(one.version), len(one.data))
    if made.revision >= 4:
        body += struct.pack("<I", len(one.manifest))
    body += one.bitmap.to_bytes((made.bits + 7) // 8, "little") + one.version
    if downstream and one.stamp is not None:
        body += struct.pack("<I", one.stamp)
    for kind, value in one.descriptors:
        body += struct.pack("<HH", kind, len(value)) + value
    body += one.data
    if made.revision >= 4:
        body += one.manifest
    return struct.pack("<H", 2 + len(body) + one.longer) + body


def component(one: Component, made: Made, at: int) -> bytes:
    place = at if one.location is None else one.location
    size = len(one.data) if one.size is None else one.size
    body = struct.pack("<HHIHH", one.classification, one.identifier, one.stamp, one.options, one.activation)
    body += struct.pack("<IIBB", place, size, one.kind, len(one.version)) + one.version
    if made.revision >= 3:
        body += struct.pack("<I", len(one.opaque)) + one.opaque
    return body


def header(made: Made, size: int) -> bytes:
    raw = bytes.fromhex((made.uuid or UUIDS[made.revision]).replace("-", ""))
    raw += struct.pack("<BH", made.revision, size) + made.date
    raw += struct.pack("<HBB", made.bits, made.kind, len(made.version)) + made.version
    raw += bytes([len(made.devices)]) + b"".join(record(one, made, False) for one in made.devices)
    if made.revision >= 2:
        raw += bytes([len(made.downstream)]) + b"".join(record(one, made, True) for one in made.downstream)
    raw += struct.pack("<H", len(made.components))
    at = size + len(made.before)
    for one in made.components:
        raw += component(one, made, at)
        at += len(one.data)
    return raw + made.extra


def package(made: Made | None = None) -> bytes:
    made = made or Made()
    sums = 8 if made.revision >= 4 else 4
    size = len(header(made, 0)) + sums
    raw = bytearray(header(made, size + made.longer))
    for at, data in made.set.items():
        raw[at : at + len(data)] = data
    payload = made.before + b"".join(one.data for one in made.components) + made.behind
    raw += struct.pack("<I", crc(bytes(raw)) if made.header_crc is None else made.header_crc)
    if made.revision >= 4:
        raw += struct.pack("<I", crc(payload) if made.payload_crc is None else made.payload_crc)
    return bytes(raw) + payload


def full(revision: int) -> bytes:
    """A package that uses every field of its revision."""
    one = Device(
        descriptors=(
            (0x0000, b"\x34\xf2"),
            (0x0001, struct.pack("<I", ENTERPRISE)),
            (0x0002, bytes(range(16))),
            (0x0100, b"\x64\x00"),
            (0x0101, b"\x34\xf2"),
            (0x0102, b"\x01\x10"),
            (0x0103, b"\x02"),
            (0xFFFF, b"\x01\x04Slot\xaa\xbb"),
            (0xFFFF, b"\x00\x00\x01"),
        ),
        data=b"\x01\x02",
        manifest=b"\x03\x04\x05",
        bitmap=0b11,
    )
    behind = replace(one, options=1, stamp=0x01020304, version="v1".encode("utf-16-le"), kind=4, bitmap=0b10)
    parts = (
        Component(opaque=b"\x09" if revision >= 3 else b""),
        Component(b"\x55" * 40, "7.11".encode("utf-16-be"), 5, 11, 8, 5, 2, 0x21),
    )
    return package(Made(revision, devices=(one, Device()), downstream=(behind,), components=parts))
