"""gzip: RFC 1952. One content, packed by deflate; the name in its header is only text."""

from __future__ import annotations

from datetime import UTC, datetime

from catalogue.formats import packed_stream
from catalogue.formats.archive_items import named
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading

SOURCE = "RFC 1952, 2.3"
NAME, KIND = "gzip", "archive/gzip"
MAGIC = b"\x1f\x8b\x08"
HEAD_BYTES = 4_096
_EXTRA, _NAME, _COMMENT, _HEADER_SUM, _RESERVED = 4, 8, 16, 2, 0xE0


def header(head: bytes) -> tuple[str, str, bool]:
    """The name and the comment that the header in these first bytes gives, and whether it is whole within them."""
    if len(head) < 10:
        return "", "", False
    flags, at = head[3], 10
    if flags & _EXTRA:
        at += 2 + int.from_bytes(head[at : at + 2], "little")
    texts = []
    for flag in (_NAME, _COMMENT):
        text = b""
        if flags & flag:
            end = head.find(b"\0", at)
            if end < 0:
                return "", "", False
            text, at = head[at:end], end + 1
        texts.append(text)
    if flags & _HEADER_SUM:
        at += 2
    name = texts[0].decode("utf-8", "surrogateescape")
    return name, texts[1].decode("latin-1"), at <= len(head)


def header_length(head: bytes) -> int | None:
    """Where the packed bytes begin behind the header that begins `head`; None where it does not end within it."""
    if len(head) < 10:
        return None
    flags, at = head[3], 10
    if flags & _EXTRA:
        at += 2 + int.from_bytes(head[at : at + 2], "little")
    for flag in (_NAME, _COMMENT):
        if flags & flag:
            at = head.find(b"\0", at) + 1 if at <= len(head) else 0
            if not at:
                return None
    if flags & _HEADER_SUM:
        at += 2
    return at if at <= len(head) else None


def looks_like(view: View) -> Looks:
    """SURE for the magic of deflate with no reserved flag."""
    head = view.at(0, 10)
    return Looks.SURE if len(head) == 10 and head[:3] == MAGIC and not head[3] & _RESERVED else Looks.NO


def read(view: View) -> Reading | None:
    """The stream that fills `view`, not unpacked here; None where it is none."""
    if looks_like(view) is Looks.NO:
        return None
    head = view.at(0, HEAD_BYTES)
    name, comment, whole = header(head)
    faults: list[Fault] = []
    notes: list[Fault] = []
    if view.size < 18:
        faults.append(Fault("archive-damaged", "It is cut short.", view.size))
    elif not whole:
        notes.append(Fault("archive-odd", f"Its header is longer than the {HEAD_BYTES} bytes that are read.", 0))
    unsafe = named(name.encode("utf-8", "surrogateescape"))[1] if name else ""
    if unsafe:
        faults.append(Fault("archive-name", f"Its content {unsafe}.", 10))
    tail = view.at(view.size - 8, 8)
    crc, size = int.from_bytes(tail[:4], "little"), int.from_bytes(tail[4:], "little")
    seconds = int.from_bytes(head[4:8], "little")
    fields = [
        Field("name", name or None, 10 if name else None, len(name), "What the packed file was called", SOURCE),
        Field("comment", comment or None, None, 0, "A comment", SOURCE),
        Field(
            "packed_file_time",
            datetime.fromtimestamp(seconds, UTC).isoformat() if seconds else None,
            4, 4, "When the packed file was changed (UTC)", SOURCE,
        ),
        Field("stated_crc32", crc, view.size - 8, 4, "CRC-32 of the content, or of its last part", SOURCE),
        Field("stated_size", size, view.size - 4, 4, "Bytes of the content modulo 2^32, of its last part", SOURCE),
    ]  # fmt: skip
    called = name or packed_stream.UNNAMED
    title = f"gzip of {called[:80]}" if name else "gzip of one content"
    return packed_stream.reading(NAME, KIND, title, view, called=called, fields=fields, faults=faults, notes=notes)


READER = Reader(
    name=NAME,
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    version=2,
    source="RFC 1952",
    depth="the header's name, time and comment; stated size and CRC, compared when it is unpacked",
    first=(MAGIC,),
)
