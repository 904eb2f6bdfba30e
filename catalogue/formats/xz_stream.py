"""xz: The .xz File Format 1.2. The first stream's header and the last one's index; unpacking is another matter."""

from __future__ import annotations

import zlib

from catalogue.formats import packed_stream
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading

SOURCE = "The .xz File Format 1.2"
NAME, KIND = "xz", "archive/xz"
MAGIC, FOOTER = b"\xfd7zXZ\x00", b"YZ"
CHECKS = {0: "none", 1: "CRC-32", 4: "CRC-64", 10: "SHA-256"}
"""Section 2.1.1.2."""
HEADER, MAX_INDEX = 12, 1 << 20
MAX_PADDING = 1 << 20


def looks_like(view: View) -> Looks:
    """SURE for a stream header whose own CRC holds; MAYBE for the magic alone."""
    head = view.at(0, HEADER)
    if head[:6] != MAGIC:
        return Looks.NO
    return Looks.SURE if zlib.crc32(head[6:8]) == int.from_bytes(head[8:12], "little") else Looks.MAYBE


def read(view: View) -> Reading | None:
    """The stream or streams that fill `view`, not unpacked here; None where it is none."""
    head = view.at(0, HEADER)
    if head[:6] != MAGIC or len(head) < HEADER:
        return None
    faults = []
    if zlib.crc32(head[6:8]) != int.from_bytes(head[8:12], "little"):
        faults.append(Fault("archive-damaged", "The CRC of its header does not hold.", 8))
    size, why = _sizes(view)
    if why:
        faults.append(Fault("archive-damaged", why, view.size))
    check = head[7] & 0x0F
    fields = (
        Field(
            "check", check, 7, 1, f"How the content is checked: {CHECKS.get(check, 'not known')}", f"{SOURCE}, 2.1.1.2"
        ),
        Field("stated_size", size or None, None, 0, "Bytes of the content, as its index says", f"{SOURCE}, 4"),
    )
    return packed_stream.reading(NAME, KIND, "xz of one content", view, size=size or None, fields=fields, faults=faults)


def _sizes(view: View) -> tuple[int, str]:
    """Bytes that the last stream's index says it holds, and what is wrong with the end ("" where nothing is)."""
    end = view.size
    while end > HEADER and end > view.size - MAX_PADDING and view.at(end - 4, 4) == bytes(4):
        end -= 4
    foot = view.at(end - HEADER, HEADER)
    if len(foot) < HEADER or foot[10:] != FOOTER or zlib.crc32(foot[4:10]) != int.from_bytes(foot[:4], "little"):
        return 0, "Its end is not a stream's: it is cut short, or other bytes stand behind it."
    length = (int.from_bytes(foot[4:8], "little") + 1) * 4
    index = view.at(end - HEADER - length, min(length, MAX_INDEX))
    if len(index) < length or index[:1] != b"\0":
        return 0, "" if length > MAX_INDEX else "Its index does not stand where its end says."
    at, count = _integer(index, 1)
    total = 0
    for _ in range(min(count, MAX_INDEX)):
        at, _packed = _integer(index, at)
        at, size = _integer(index, at)
        if at >= len(index):
            return 0, "Its index is damaged."
        total += size
    return total, ""


def _integer(data: bytes, at: int) -> tuple[int, int]:
    """Where the next value begins, and this one (section 1.2)."""
    value = 0
    for shift in range(0, 63, 7):
        if at >= len(data):
            break
        byte = data[at]
        at += 1
        value |= (byte & 0x7F) << shift
        if not byte & 0x80:
            break
    return at, value


READER = Reader(
    name=NAME,
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    version=2,
    source=SOURCE,
    depth="how the content is checked, the size its index states; unpacked and checked by liblzma",
    first=(MAGIC[:4],),
)
