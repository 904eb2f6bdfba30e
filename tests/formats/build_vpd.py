"""Vital product data for tests, from PCI 2.2, appendix I; the reader has no part in it."""

from __future__ import annotations


def keyword(name: str, value: bytes) -> bytes:
    return name.encode() + bytes([len(value)]) + value


def block(tag: int, body: bytes) -> bytes:
    return bytes([tag]) + len(body).to_bytes(2, "little") + body


def vpd(
    name: bytes | None = b"Corvane Heron",
    more: bytes = b"",
    reserved: bytes = b"\0\0",
    writable: bytes = keyword("YA", b"SMC-0007") + keyword("RW", bytes(9)),
    end: bytes = b"\x78",
    wrong: int = 0,
) -> bytes:
    raw = block(0x82, name) if name is not None else b""
    keywords = keyword("PN", b"H-1200  ") + keyword("SN", b"SN00017") + keyword("EC", b"B2") + more
    size = len(keywords) + 3 + 1 + len(reserved)
    raw += b"\x90" + size.to_bytes(2, "little") + keywords + b"RV" + bytes([1 + len(reserved)])
    raw += bytes([-(sum(raw)) + wrong & 0xFF]) + reserved
    if writable:
        raw += block(0x91, writable)
    return raw + end
