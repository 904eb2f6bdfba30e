"""bzip2: a stream of blocks, each with a CRC. Its author's manual names the level; the marks are from memory."""

from __future__ import annotations

from catalogue.formats import packed_stream
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading

SOURCE = "bzip2 1.0.8, user's manual"
NAME, KIND = "bzip2", "archive/bzip2"
MAGIC = b"BZh"
_BLOCK, _END = b"1AY&SY", b"\x17\x72\x45\x38\x50\x90"
"""First bytes of a block (pi), and of the end of a stream (the square root of pi); from memory."""


def looks_like(view: View) -> Looks:
    """SURE for the magic, a level and a block's mark."""
    head = view.at(0, 10)
    level = head[3:4]
    right = head[:3] == MAGIC and b"1" <= level <= b"9" and head[4:] in (_BLOCK, _END)
    return Looks.SURE if right else Looks.NO


def read(view: View) -> Reading | None:
    """The stream that fills `view`, not unpacked here; None where it is none."""
    if looks_like(view) is Looks.NO:
        return None
    level = view.at(3, 1)[0] - 0x30
    fields = (Field("block_size", level * 100_000, 3, 1, "Bytes packed together, at most", SOURCE),)
    faults = (Fault("archive-damaged", "It is cut short.", view.size),) if view.size < 14 else ()
    return packed_stream.reading(NAME, KIND, "bzip2 of one content", view, fields=fields, faults=faults)


READER = Reader(
    name=NAME,
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    version=2,
    source=SOURCE,
    depth="the size of its blocks; unpacked and checked by libbz2",
    first=(MAGIC,),
)
