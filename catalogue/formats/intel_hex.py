"""Intel HEX: a text whose records load bytes at addresses.

Intel, "Hexadecimal Object File Format Specification", revision A (1988); record types and sum also in standards of the
trade (from memory).
"""

from __future__ import annotations

import binascii
import re

from catalogue.formats.hex_memory import Records, lines_of, reading
from catalogue.formats.limits import MAX_HEX_BYTES
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading

SOURCE = "Intel, Hexadecimal Object File Format Specification"
_LINE = re.compile(rb":(?:[0-9A-Fa-f]{2}){5,260}\s")
_MOST_LINE = 530
_DATA, _END, _SEGMENT, _START_SEGMENT, _LINEAR, _START_LINEAR = range(6)
_SIZES = {_END: 0, _SEGMENT: 2, _START_SEGMENT: 4, _LINEAR: 2, _START_LINEAR: 4}
_SEGMENT_BYTES = 0x1_0000


def looks_like(view: View) -> Looks:
    """SURE of a first line that is a record whose length and sum hold; MAYBE of one that only looks so."""
    head = view.at(0, _MOST_LINE)
    match = _LINE.match(head if len(head) == _MOST_LINE else head + b"\n")
    if match is None:
        return Looks.NO
    return Looks.SURE if not _wrong(binascii.unhexlify(match[0][1:-1])) else Looks.MAYBE


def read(view: View) -> Reading | None:
    """The Intel HEX text that fills `view`, and what its bytes are; None where it is none."""
    if looks_like(view) is Looks.NO:
        return None
    return reading(view, parse(view), READER.name, "intel-hex", "Intel HEX", SOURCE)


def parse(view: View) -> Records:
    """The records of `view`, up to the end record. Raises nothing but the view's own OSError."""
    records = Records()
    data = view.at(0, MAX_HEX_BYTES)
    # Without a base, addresses go on past 64 KiB (common practice, no published source).
    base, wraps = 0, False
    for number, at, line in lines_of(data):
        if records.ended:
            records.notes.append(Fault("hex-odd", "Lines stand behind the end record; they were not read.", at))
            break
        if line[:1] != b":":
            records.other += 1
            continue
        try:
            raw = binascii.unhexlify(line[1:])
        except binascii.Error:
            records.wrong(number, "it is no record", at)
            continue
        why = _wrong(raw)
        if why:
            records.wrong(number, why, at)
            continue
        records.good += 1
        kind, offset, body = raw[3], raw[1] << 8 | raw[2], raw[4:-1]
        if kind == _DATA:
            room = _SEGMENT_BYTES - offset
            if len(body) > room and wraps:
                records.load(base + offset, body[:room])
                records.load(base, body[room:])
            else:
                records.load(base + offset, body)
        elif kind == _END:
            records.ended = True
        elif kind in (_SEGMENT, _LINEAR):
            wraps = kind == _SEGMENT
            base = int.from_bytes(body, "big") << (4 if wraps else 16)
        elif not any(one.name == "start_address" for one in records.fields):
            meaning = "Where the program starts: segment and offset" if kind == _START_SEGMENT else "Where it starts"
            value = int.from_bytes(body, "big")
            records.fields.append(Field("start_address", value, at, len(line), meaning, SOURCE))
    if view.size > MAX_HEX_BYTES:
        records.notes.append(Fault("hex-odd", f"Only its first {MAX_HEX_BYTES} bytes were read."))
    return records


def _wrong(raw: bytes) -> str:
    """What is wrong with a record's bytes, "" where nothing is."""
    if len(raw) < 5 or len(raw) != raw[0] + 5:
        return "its length is not what it says"
    if sum(raw) & 0xFF:
        return "its sum is wrong"
    kind = raw[3]
    if kind > _START_LINEAR:
        return f"it is of type {kind:02X}, which is none"
    return "its type has another length" if raw[0] != _SIZES.get(kind, raw[0]) else ""


READER = Reader(
    name="intel-hex",
    first=(b":",),
    kinds=("intel-hex",),
    looks_like=looks_like,
    read=read,
    version=1,
    text=True,
    source="Intel, Hexadecimal Object File Format Specification, revision A (1988)",
    depth="every record and its sum; the decoded bytes with their own SHA-256, gaps, and what they are",
)
