"""What intake hands to the store: contents as they were read, and the files that hold them."""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.shapes.reading import Reading

UNREAD, GLANCED, WHOLE = 0, 1, 2
"""How much of a content its reading rests on: nothing but its length (too large to unpack into memory), all but the
text of a long opaque piece, everything."""
Stamp = tuple[int, int, int, int]
"""size, mtime_ns, ctime_ns, inode (signed): what a file is compared by. A mtime_ns of -1 says that it is too fresh for
its time to show a later change."""


@dataclass(slots=True)
class MemberFound:
    """One entry of an archive, at its `position` in the directory.

    `piece` is None where its bytes could not be had; `fault` is a code, `why` its words.
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
    """One content. `members` is None for what is no archive; `archive_why` is what was wrong with it as a whole.

    `head` is its first FIRST_BYTES bytes (`formats.reader`), None where nobody noted them.
    """

    sha256: bytes
    size: int
    reading: Reading
    reader_version: int
    depth: int = WHOLE
    members: list[MemberFound] | None = None
    archive_why: str = ""
    head: bytes | None = None


@dataclass(slots=True)
class Folder:
    """A folder that files lie in. Its id is given when its first file is written; `name` is its last part, as text."""

    path: bytes
    name: str
    id: int | None = None


@dataclass(slots=True)
class FileFound:
    """A file and what it holds. `replaces` is the piece that lay at this place before."""

    folder: Folder
    name: bytes
    stamp: Stamp
    piece: PieceFound
    replaces: int | None = None
