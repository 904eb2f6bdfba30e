"""ISO 9660 images by hand, one field a line (ECMA-119, SUSP 1.12, RRIP 1.12, El Torito 1.0)."""

from __future__ import annotations

import struct
from collections.abc import Mapping

BLOCK = 2_048
FOLDER = 2
END = 17
ROOT = 18


def both(value: int, width: int = 4) -> bytes:
    """A number in both byte orders (7.2.3, 7.3.3)."""
    return value.to_bytes(width, "little") + value.to_bytes(width, "big")


def record(name: bytes, block: int, length: int, flags: int = 0, use: bytes = b"", **more: int) -> bytes:
    """A directory record (9.1)."""
    pad = b"" if len(name) % 2 else b"\0"
    body = (
        bytes((more.get("extended", 0),))
        + both(block)
        + both(length)
        + bytes((126, 11, 25, 12, 0, 0, 0))
        + bytes((flags, more.get("unit", 0), more.get("gap", 0)))
        + both(1, 2)
        + bytes((len(name),))
        + name
        + pad
        + use
    )
    body += b"\0" * (1 - len(body) % 2)
    return bytes((len(body) + 1,)) + body


def folder(block: int, *records: bytes, parent: int = ROOT, use: bytes = b"", length: int = BLOCK) -> bytes:
    """A folder's bytes, with its own record and its parent's."""
    own = record(b"\0", block, length, FOLDER, use)
    return own + record(b"\1", parent, BLOCK, FOLDER) + b"".join(records)


def descriptor(
    kind: int = 1, root: int = ROOT, blocks: int = 22, escape: bytes = b"", version: int = 1, length: int = BLOCK
) -> bytes:
    """A primary or supplementary volume descriptor (8.4, 8.5)."""
    made = bytearray(BLOCK)
    made[0:7] = bytes((kind,)) + b"CD001" + bytes((version,))
    made[8:40] = b"BY HAND".ljust(32)
    made[40:72] = b"SALTMARSH".ljust(32)
    made[80:88] = both(blocks)
    made[88 : 88 + len(escape)] = escape
    made[120:124] = both(1, 2)
    made[124:128] = both(1, 2)
    made[128:132] = both(BLOCK, 2)
    made[132:140] = both(10)
    made[156:190] = record(b"\0", root, length, FOLDER)
    made[318:813] = b" " * 495
    made[813:830] = b"2026112512000000\0"
    made[881] = 1
    return bytes(made)


def terminator() -> bytes:
    return (b"\xffCD001\1").ljust(BLOCK, b"\0")


def boot_record(catalogue: int) -> bytes:
    return (b"\0CD001\1" + b"EL TORITO SPECIFICATION".ljust(64, b"\0") + struct.pack("<L", catalogue)).ljust(
        BLOCK, b"\0"
    )


def validation(platform: int = 0) -> bytes:
    made = bytearray(bytes((1, platform)) + bytes(26) + b"\0\0\x55\xaa")
    total = sum(struct.unpack("<16H", made))
    made[28:30] = (-total & 0xFFFF).to_bytes(2, "little")
    return bytes(made)


def boot_entry(block: int, sectors: int = 4, media: int = 0, bootable: bool = True) -> bytes:
    return (struct.pack("<BBHBBHL", 0x88 if bootable else 0, media, 0, 0, 0, sectors, block)).ljust(32, b"\0")


def section(platform: int, count: int, last: bool = True) -> bytes:
    return struct.pack("<BBH", 0x91 if last else 0x90, platform, count).ljust(32, b"\0")


def iso(blocks: Mapping[int, bytes], total: int = 22) -> bytes:
    """An image of these blocks; without others a primary descriptor and the terminator stand there."""
    image = bytearray(total * BLOCK)
    for number, data in {16: descriptor(blocks=total), END: terminator(), **blocks}.items():
        image[number * BLOCK : number * BLOCK + len(data)] = data
    return bytes(image)


# Rock Ridge


def entry(sign: bytes, body: bytes) -> bytes:
    """A system use entry (SUSP 4)."""
    return sign + bytes((len(body) + 4, 1)) + body


SP = entry(b"SP", b"\xbe\xef\0")


def nm(name: bytes, flags: int = 0) -> bytes:
    return entry(b"NM", bytes((flags,)) + name)


def px(mode: int) -> bytes:
    return entry(b"PX", both(mode) + both(1) + both(0) + both(0))


def ce(block: int, offset: int, length: int) -> bytes:
    return entry(b"CE", both(block) + both(offset) + both(length))


def cl(block: int) -> bytes:
    return entry(b"CL", both(block))
