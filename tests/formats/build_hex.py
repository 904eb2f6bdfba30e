"""Intel HEX and S-records for tests, from the formats' descriptions; the readers have no part in them."""

from __future__ import annotations

from collections.abc import Mapping


def record(kind: int, address: int, data: bytes = b"") -> str:
    raw = bytes([len(data)]) + address.to_bytes(2, "big") + bytes([kind]) + data
    return f":{raw.hex()}{-sum(raw) & 0xFF:02x}".upper()


def intel_hex(chunks: Mapping[int, bytes], width: int = 16, end: str = "\n", segments: bool = False) -> bytes:
    lines: list[str] = []
    high = 0
    for start, data in chunks.items():
        for at in range(start, start + len(data), width):
            part = data[at - start : at - start + width]
            if at >> 16 != high:
                high = at >> 16
                kind, value = (2, high << 12) if segments else (4, high)
                lines.append(record(kind, 0, value.to_bytes(2, "big")))
            lines.append(record(0, at & 0xFFFF, part))
    lines.append(record(1, 0))
    return (end.join(lines) + end).encode()


def s_record(kind: int, address: int, data: bytes = b"", size: int = 2) -> str:
    raw = bytes([size + len(data) + 1]) + address.to_bytes(size, "big") + data
    return f"S{kind}{raw.hex()}{~sum(raw) & 0xFF:02x}".upper()


def s_records(chunks: Mapping[int, bytes], size: int = 2, header: bytes = b"HERON", count: bool = True) -> bytes:
    lines = [s_record(0, 0, header)]
    number = 0
    for start, data in chunks.items():
        for at in range(start, start + len(data), 16):
            lines.append(s_record(size - 1, at, data[at - start : at - start + 16], size))
            number += 1
    if count:
        lines.append(s_record(5, number))
    lines.append(s_record(11 - size, 0x100, b"", size))
    return ("\r\n".join(lines) + "\r\n").encode()
