"""Open an archive where it lies and hand on its members, bounded in depth, number, size and ratio.

Nothing of it is trusted: names are only text, sizes are held to, links are not followed, and no byte goes to disk.
"""

from __future__ import annotations

import hashlib
import threading
import zlib
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass

from catalogue.formats import zip_directory
from catalogue.formats.view import BytesView, PartView, View
from catalogue.formats.zip_directory import Entry
from catalogue.intake import bounds, unpack
from catalogue.intake.hashing import Ended
from catalogue.intake.reading import VERSIONS, read_view
from catalogue.shapes.reading import Reading
from catalogue.store.found import UNREAD, MemberFound, PieceFound

ARCHIVE = "archive/zip"
DAMAGED, LOCKED, NOT_OPENED = "archive-damaged", "archive-locked", "archive-not-opened"
"""Fault codes of members: the first speaks against its bytes, the second hides them, the third says that they are an
archive which was not opened, or lie beyond a bound."""
_ONE_AT_A_TIME = threading.RLock()


@dataclass(slots=True)
class Road:
    """The way from a file on disk into its archives, and what is left of its bounds."""

    file_bytes: int
    ended: Callable[[], bool]
    unpacked: int = 0
    members: int = 0
    held: int = 0
    over: str = ""

    def spend(self, count: int) -> None:
        """Count unpacked bytes. Raises _Over where a bound is passed."""
        self.unpacked += count
        if self.unpacked > bounds.MAX_UNPACKED_BYTES:
            raise _Over(f"It unpacks to more than {bounds.MAX_UNPACKED_BYTES >> 30} GiB; the rest was not read.")
        if self.unpacked > bounds.FREE_BYTES and self.unpacked > bounds.MAX_RATIO * self.file_bytes:
            raise _Over(f"It unpacks to more than {bounds.MAX_RATIO} times its size; the rest was not read.")
        if self.ended():
            raise Ended


class _Over(Exception):
    """A bound of the road was passed; nothing more of the file on disk is unpacked."""


def is_archive(reading: Reading) -> bool:
    """Whether a piece is an archive, or a program that carries one, which can be opened."""
    return reading.kind == ARCHIVE or any(part.kind == ARCHIVE for part in reading.parts)


def open_archive(view: View, road: Road, what: str, depth: int = 1) -> tuple[list[MemberFound], str]:
    """The members of the archive in `view`, and what was wrong with it as a whole ("" for nothing).

    Raises the view's OSError, and Ended.
    """
    found = zip_directory.directory(view)
    if found is None:
        return [], "Its directory is missing: it is cut short, or the rest of it is in another file."
    members: list[MemberFound] = []
    why = " ".join(found.faults)
    for position, entry in enumerate(found.entries):
        if entry.folder:
            continue
        road.members += 1
        if road.members > bounds.MAX_MEMBERS:
            road.over = road.over or f"It holds more than {bounds.MAX_MEMBERS} members; the rest was not read."
        if road.over:
            break
        member = _member(view, entry, road, what, depth)
        member.position = position
        members.append(member)
    return members, " ".join(part for part in (why, road.over) if part)


def _member(view: View, entry: Entry, road: Road, what: str, depth: int) -> MemberFound:
    made = MemberFound(entry.name, None, entry.size, entry.crc32)
    if entry.fault:
        made.fault, made.why = LOCKED if entry.encrypted else DAMAGED, f"It {entry.fault}."
    if entry.data_offset is None or entry.encrypted or (entry.fault and not entry.fault_leaves_bytes):
        return made
    before = road.held
    try:
        with _ONE_AT_A_TIME if entry.size > bounds.BIG_MEMBER else nullcontext():
            made.piece = _piece(view, entry, road, f"{what} › {entry.name}", depth, made)
    except unpack.Damaged as error:
        made.fault, made.why = DAMAGED, f"It {error}."
    except _Over as error:
        road.over = str(error)
        made.fault, made.why = NOT_OPENED, road.over
    finally:
        road.held = before
    return made


def _piece(view: View, entry: Entry, road: Road, what: str, depth: int, made: MemberFound) -> PieceFound:
    hashed = hashlib.sha256()
    crc = 0
    fits = entry.size <= bounds.MAX_MEMBER_BYTES and road.held + entry.size <= bounds.MAX_HELD_BYTES
    stored = entry.method == unpack.STORED and entry.data_offset is not None
    data = bytearray() if fits and not stored else None
    if data is not None:
        road.held += entry.size
    for chunk in unpack.chunks(view, entry):
        road.spend(len(chunk))
        hashed.update(chunk)
        crc = zlib.crc32(chunk, crc)
        if data is not None:
            data += chunk
    if crc != entry.crc32:
        made.fault, made.why = DAMAGED, f"Its bytes have the CRC {crc:08x}, its directory says {entry.crc32:08x}."
    inner: View
    if data is not None:
        inner = BytesView(data)
    elif stored:
        inner = PartView(view, entry.data_offset or 0, entry.size)
    else:
        reading = Reading("opaque", "opaque", "Too large to be read inside an archive", length=entry.size)
        return PieceFound(hashed.digest(), entry.size, reading, 0, UNREAD)
    reading, how_far = read_view(inner, what)
    piece = PieceFound(hashed.digest(), entry.size, reading, VERSIONS.get(reading.format, 0), how_far)
    if is_archive(reading):
        if depth < bounds.MAX_DEPTH:
            piece.members, piece.archive_why = open_archive(inner, road, what, depth + 1)
        elif not made.fault:
            made.fault = NOT_OPENED
            made.why = f"It lies more than {bounds.MAX_DEPTH} archives deep, so it was not opened."
    return piece
