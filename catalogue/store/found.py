"""What intake hands to the store: contents as they were read, and the files that hold them."""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.shapes.reading import Reading

UNREAD, GLANCED, WHOLE = 0, 1, 2
"""How much of a content its reading rests on: nothing but its length (too large to unpack into memory), all but the
text of a long opaque piece, everything."""


@dataclass(slots=True)
class MemberFound:
    """One entry of an archive, at its `position` in the directory. `piece` is None where its bytes could not be had;
    `fault` is a code, `why` its words.
    """

    name: str
    piece: PieceFound | None
    size: int
    crc32: int | None = None
    fault: str = ""
    why: str = ""
    position: int = 0


@dataclass(slots=True)
class PieceFound:
    """One content. `members` is None for what is no archive; `archive_why` is what was wrong with it as a whole."""

    sha256: bytes
    size: int
    reading: Reading
    reader_version: int
    depth: int = WHOLE
    members: list[MemberFound] | None = None
    archive_why: str = ""
    digests: dict[str, bytes] | None = None


@dataclass(slots=True)
class FileFound:
    """A file and what it holds. `mtime_ns` is -1 where it is too fresh for its time to tell a later change.

    `inode` is signed; `replaces` is the piece that lay at this place before.
    """

    folder_id: int
    name: bytes
    size: int
    mtime_ns: int
    ctime_ns: int
    inode: int
    piece: PieceFound
    replaces: int | None = None
