"""Zstandard: RFC 8878. Frames and skippable frames, by the first frame's header."""

from __future__ import annotations

from catalogue.formats import packed_stream
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading

SOURCE = "RFC 8878, 3.1.1.1"
NAME, KIND = "zstd", "archive/zstd"
MAGIC = b"\x28\xb5\x2f\xfd"
SKIPPABLE = tuple(bytes([0x50 + low, 0x2A, 0x4D, 0x18]) for low in range(16))
"""3.1.2: frames that carry no content."""
MAX_SKIPPED = 64
_CHECKSUM, _SINGLE, _RESERVED = 0x04, 0x20, 0x08
MAX_WINDOW_LOG = 27
"""The largest window that is unpacked: 128 MiB, as the zstd program takes without being asked (RFC: at least 8 MiB)."""


def first_frame(view: View) -> int | None:
    """Where the first frame with content begins; None where there is none."""
    at = 0
    for _ in range(MAX_SKIPPED):
        head = view.at(at, 8)
        if head[:4] == MAGIC:
            return at
        if head[:4] not in SKIPPABLE or len(head) < 8:
            return None
        at += 8 + int.from_bytes(head[4:8], "little")
    return None


def looks_like(view: View) -> Looks:
    """SURE for the magic; MAYBE for a skippable frame first."""
    head = view.at(0, 5)
    if head[:4] == MAGIC and len(head) == 5 and not head[4] & _RESERVED:
        return Looks.SURE
    return Looks.MAYBE if head[:4] in SKIPPABLE else Looks.NO


def read(view: View) -> Reading | None:
    """The frames that fill `view`, not unpacked here; None where none carries content."""
    at = first_frame(view)
    if at is None:
        return None
    head = view.at(at, 18)
    if len(head) < 6 or head[4] & _RESERVED:
        return None
    flags = head[4]
    checked, size = bool(flags & _CHECKSUM), content_size(head)
    fields = (
        Field("frame_offset", at, None, 0, "Where the first frame with content begins", SOURCE),
        Field("window", window_size(head), None, 0, "Bytes that unpacking must keep", SOURCE),
        Field("stated_size", size, None, 0, "Bytes of the first frame's content, where it says so", SOURCE),
        Field("checked", checked, at + 4, 1, "Whether a checksum of the content stands at its end", SOURCE),
    )
    window = window_size(head)
    notes = []
    if window > 1 << MAX_WINDOW_LOG:
        text = f"It needs a window of {window >> 20} MiB; {1 << MAX_WINDOW_LOG - 20} MiB are given."
        notes.append(Fault("archive-not-opened", text, at + 5))
    return packed_stream.reading(NAME, KIND, "Zstandard of one content", view, fields=fields, notes=notes)


def content_size(head: bytes) -> int | None:
    """The content size that a frame header states; None where it states none."""
    flags = head[4]
    form, single = flags >> 6, bool(flags & _SINGLE)
    at = 5 + (not single) + (0, 1, 2, 4)[flags & 3]
    length = (1 if single else 0, 2, 4, 8)[form]
    raw = head[at : at + length]
    if not length or len(raw) < length:
        return None
    return int.from_bytes(raw, "little") + (256 if length == 2 else 0)


def window_size(head: bytes) -> int:
    """Bytes of the window that a frame header asks for (3.1.1.1.2)."""
    if head[4] & _SINGLE:
        return content_size(head) or 0
    exponent, mantissa = head[5] >> 3, head[5] & 7
    base = 1 << (10 + exponent)
    return base + (base >> 3) * mantissa


READER = Reader(
    name=NAME,
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    version=2,
    source="RFC 8878",
    depth="the first frame's header: window, stated size, checksum or not; unpacked by libzstd",
    first=(MAGIC, *SKIPPABLE),
)
