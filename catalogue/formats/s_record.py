"""S-records: a text whose records load bytes at addresses.

Motorola, "M68000 Family Programmer's Reference Manual", appendix C (S-record output format).
"""

from __future__ import annotations

import binascii
import re

from catalogue.formats.hex_memory import Records, lines_of, reading
from catalogue.formats.limits import MAX_HEX_BYTES
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.rows import printable
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading

SOURCE = "M68000 Family Programmer's Reference Manual, appendix C"
_LINE = re.compile(rb"S[0-35-9](?:[0-9A-Fa-f]{2}){4,256}\s")
_MOST_LINE = 530
_ADDRESS = {0: 2, 1: 2, 2: 3, 3: 4, 5: 2, 6: 3, 7: 4, 8: 3, 9: 2}
"""Bytes of the address, or of the count, by type."""
_COUNTS, _STARTS = (5, 6), (7, 8, 9)


def looks_like(view: View) -> Looks:
    """SURE of a first line that is a record whose length and sum hold; MAYBE of one that only looks so."""
    head = view.at(0, _MOST_LINE)
    match = _LINE.match(head if len(head) == _MOST_LINE else head + b"\n")
    if match is None:
        return Looks.NO
    return Looks.SURE if not _wrong(head[1] - 0x30, binascii.unhexlify(match[0][2:-1])) else Looks.MAYBE


def read(view: View) -> Reading | None:
    """The S-records that fill `view`, and what their bytes are; None where it is something else."""
    if looks_like(view) is Looks.NO:
        return None
    return reading(view, parse(view), READER.name, "s-record", "S-records", SOURCE)


def parse(view: View) -> Records:
    """The records of `view`, up to the one that ends them. Raises nothing but the view's own OSError."""
    records = Records()
    loads = 0
    for number, at, line in lines_of(view.at(0, MAX_HEX_BYTES)):
        if records.ended:
            records.notes.append(Fault("hex-odd", "Lines stand behind the end record; they were not read.", at))
            break
        if line[:1] != b"S":
            records.other += 1
            continue
        kind = line[1] - 0x30 if len(line) > 1 else 4
        try:
            raw = binascii.unhexlify(line[2:])
        except binascii.Error:
            records.wrong(number, "it is no record", at)
            continue
        why = _wrong(kind, raw)
        if why:
            records.wrong(number, why, at)
            continue
        records.good += 1
        records.counted = kind in _COUNTS
        size = _ADDRESS[kind]
        address, body = int.from_bytes(raw[1 : 1 + size], "big"), raw[1 + size : -1]
        if kind == 0:
            if body and not any(one.name == "header" for one in records.fields):
                text = printable(body.rstrip(b"\0 "))
                records.fields.append(Field("header", text, at, len(line), "What the header record says", SOURCE))
        elif kind in _COUNTS:
            if address != loads:
                records.counted = False
                records.wrong(number, f"it counts {address} records before it; there are {loads}", at)
        elif kind in _STARTS:
            records.ended = True
            records.fields.append(Field("start_address", address, at, len(line), "Where it starts", SOURCE))
        else:
            loads += 1
            records.load(address, body)
    if view.size > MAX_HEX_BYTES:
        records.notes.append(Fault("hex-odd", f"Only its first {MAX_HEX_BYTES} bytes were read."))
    return records


def _wrong(kind: int, raw: bytes) -> str:
    """What is wrong with a record's bytes, "" where nothing is."""
    if kind not in _ADDRESS:
        return "it is of a type that is none"
    if len(raw) < 2 + _ADDRESS[kind] or len(raw) != raw[0] + 1:
        return "its length is not what it says"
    return "its sum is wrong" if sum(raw) & 0xFF != 0xFF else ""


READER = Reader(
    name="s-record",
    first=(b"S0", b"S1", b"S2", b"S3"),
    kinds=("s-record",),
    looks_like=looks_like,
    read=read,
    version=1,
    text=True,
    source="Motorola, M68000 Family Programmer's Reference Manual, appendix C",
    depth="every record and its sum, header, counts; the decoded bytes with their own SHA-256, gaps, and what they are",
)
