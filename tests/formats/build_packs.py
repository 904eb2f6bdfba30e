"""cpio, ar and RPM packages by hand, one field after the other, so that each can be made wrong."""

from __future__ import annotations

import hashlib
import struct
from dataclasses import dataclass

FILE, FOLDER, LINK, DEVICE = 0o100644, 0o040755, 0o120777, 0o020600


@dataclass
class Entry:
    """One member of a cpio archive. What is None is told right."""

    name: bytes
    body: bytes = b"piece"
    mode: int = FILE
    links: int = 1
    size: int | None = None
    names: int | None = None
    check: int | None = None


def cpio(*entries: Entry, form: bytes = b"070701", close: bool = True) -> bytes:
    """Linux, buffer-format.rst (new forms); POSIX.1-2001, pax (octal)."""
    out = bytearray()
    for number, one in enumerate((*entries, *((Entry(b"TRAILER!!!", b"", 0),) if close else ()))):
        name = one.name + b"\0"
        size = len(one.body) if one.size is None else one.size
        names = len(name) if one.names is None else one.names
        if form == b"070707":
            values = (1, number, one.mode, 0, 0, one.links, 0)
            out += form + b"".join(b"%06o" % value for value in values)
            out += b"%011o%06o%011o" % (0, names, size) + name + one.body
            continue
        check = 0 if form == b"070701" else sum(one.body) if one.check is None else one.check
        values = (number, one.mode, 0, 0, one.links, 0, size, 0, 0, 0, 0, names, check)
        out += form + b"".join(b"%08X" % value for value in values) + name
        out += bytes(-len(out) % 4) + one.body
        out += bytes(-len(out) % 4)
    return bytes(out)


def ar(*members: tuple[bytes, bytes], close: bytes = b"`\n") -> bytes:
    """ar(5): a header of 60 bytes, the bytes, a line feed where their number is odd."""
    out = b"!<arch>\n"
    for name, body in members:
        out += name.ljust(16) + b"0".ljust(12) + b"0".ljust(6) * 2 + b"100644".ljust(8)
        out += str(len(body)).encode().ljust(10) + close + body + b"\n" * (len(body) % 2)
    return out


def deb(data: bytes = b"data", *, version: bytes = b"2.0\n", suffix: bytes = b".xz") -> bytes:
    """deb(5)."""
    return ar((b"debian-binary", version), (b"control.tar" + suffix, b"control"), (b"data.tar" + suffix, data))


def rpm_header(*tags: tuple[int, int, object], count: int | None = None, size: int | None = None) -> bytes:
    """RPM Reference Manual, RPM V4 Package format: each tag is its number, its type and its value."""
    index, store = b"", b""
    for number, kind, value in tags:
        many = 1
        if kind == 4:
            store += bytes(-len(store) % 4)
            raw = struct.pack(">I", value)
        elif kind == 7:
            raw = bytes(value)
            many = len(raw)
        elif kind == 8:
            raw = b"".join(one.encode() + b"\0" for one in value)
            many = len(value)
        else:
            raw = value.encode() + b"\0"
        index += struct.pack(">4I", number, kind, len(store), many)
        store += raw
    sizes = (len(tags) if count is None else count, len(store) if size is None else size)
    return b"\x8e\xad\xe8\x01" + bytes(4) + struct.pack(">2I", *sizes) + index + store


def rpm(payload: bytes = b"payload", *, signed: bool = False, digest: str | None = None, md5: bytes | None = None,
        size: int | None = None, version: str = "12.04.00", behind: bytes = b"") -> bytes:  # fmt: skip
    """A package whose digests are right unless they are given."""
    main = rpm_header(
        (1000, 6, "heron-firmware"), (1001, 6, version), (1002, 6, "3"), (1004, 9, "Tools"), (1006, 4, 1_700_000_000),
        (1022, 6, "noarch"), (1124, 6, "cpio"), (1125, 6, "xz"),
        (5092, 8, (hashlib.sha256(payload).hexdigest() if digest is None else digest,)), (5093, 4, 8),
    )  # fmt: skip
    whole = main + payload
    tags: list[tuple[int, int, object]] = [
        (269, 6, hashlib.sha1(main).hexdigest()),
        (273, 6, hashlib.sha256(main).hexdigest()),
        (1000, 4, len(whole) if size is None else size),
        (1004, 7, hashlib.md5(whole).digest() if md5 is None else md5),
    ]
    if signed:
        tags.append((268, 7, b"\x89\x01"))
    signature = rpm_header(*tags)
    lead = b"\xed\xab\xee\xdb\x03\x00\x00\x00\x00\x01" + b"heron-firmware".ljust(66, b"\0") + b"\0\1\0\5" + bytes(16)
    return lead + signature + bytes(-len(signature) % 8) + whole + behind
