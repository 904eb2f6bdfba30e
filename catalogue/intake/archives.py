"""Open an archive where it lies and hand on its members, bounded in depth, number, size and ratio.

Nothing of it is trusted: names are only text, sizes are held to, links are not followed, and no byte goes to disk.
"""

from __future__ import annotations

import hashlib
import logging
import threading
import zlib
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from itertools import chain

from catalogue.formats.reader import FIRST_BYTES
from catalogue.formats.view import BytesView, PartView, View
from catalogue.intake import bounds, containers
from catalogue.intake.containers import is_archive
from catalogue.intake.containers.container import Container, Damaged, Doubted, Entry, Opened
from catalogue.intake.forward import Broken, ForwardView, emptied
from catalogue.intake.hashing import Ended
from catalogue.intake.reading import VERSIONS, read_view
from catalogue.shapes.reading import Reading
from catalogue.store.found import UNREAD, WHOLE, MemberFound, PieceFound

LOG = logging.getLogger("kitproof.intake")
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
    weight: int = 0
    """Members, the deep ones counted as `bounds.DEEP_MEMBERS`."""
    held: int = 0
    over: str = ""

    def spend(self, count: int) -> None:
        """Count unpacked bytes. Raises Over where a bound is passed, and Ended."""
        self.unpacked += count
        if self.unpacked > bounds.MAX_UNPACKED_BYTES:
            raise Over(f"It unpacks to more than {bounds.MAX_UNPACKED_BYTES >> 30} GiB; the rest was not read.")
        if self.unpacked > bounds.FREE_BYTES and self.unpacked > bounds.MAX_RATIO * self.file_bytes:
            raise Over(f"It unpacks to more than {bounds.MAX_RATIO} times its size; the rest was not read.")
        if self.ended():
            raise Ended

    def count(self, depth: int) -> bool:
        """Count one more member, so many archives deep; whether that is still within the bounds."""
        self.members += 1
        self.weight += 1 if depth <= 2 else bounds.DEEP_MEMBERS
        if self.members > bounds.MAX_MEMBERS:
            self.over = f"It holds more than {bounds.MAX_MEMBERS} members; the rest was not read."
        elif self.weight > bounds.FREE_MEMBERS and self.members * bounds.MEMBER_BYTES > self.file_bytes:
            self.over = f"It holds more members than its size explains, over {self.members - 1}; the rest was not read."
        return not self.over

    def hold(self, chunks: Iterator[bytes]) -> Iterator[bytes]:
        """The same chunks, counted as held in memory."""
        for chunk in chunks:
            self.held += len(chunk)
            yield chunk

    def let_go(self, count: int) -> None:
        """Count bytes that are held in memory no longer."""
        self.held -= count


class Over(Exception):
    """A bound of the road was passed; nothing more of the file on disk is unpacked."""


def open_archive(view: View, reading: Reading, road: Road, what: str, depth: int = 1) -> tuple[list[MemberFound], str]:
    """The members of the archive in `view`, of which `reading` is, and what was wrong with it as a whole ("": nothing).

    Raises the view's OSError, and Ended.
    """
    found = containers.container_of(reading)
    assert found is not None
    try:
        opened = containers.opened(view, reading)
    except (OSError, Ended, Broken):
        raise
    except Exception as error:
        return [], _failed(what, error)
    if opened is None:
        return [], found[0].missing
    return _members(opened, road, what, depth)


def _members(opened: Opened, road: Road, what: str, depth: int) -> tuple[list[MemberFound], str]:
    members: list[MemberFound] = []
    failed = ""
    entries = opened.entries()
    while not road.over:
        try:
            entry = next(entries, None)
        except (OSError, Ended, Broken):
            raise
        except Damaged as error:
            failed = f"It {error}."
            break
        except Exception as error:
            failed = _failed(what, error)
            break
        if entry is None:
            break
        if not road.count(depth):
            break
        if entry.folder:
            continue
        members.append(_member(opened, entry, road, what, depth))
    return members, " ".join(part for part in (*opened.faults, failed, road.over) if part)


def _failed(what: str, error: Exception) -> str:
    LOG.error("An archive could not be read on: %r", what, exc_info=error)
    return f"It could not be read on ({type(error).__name__})."


def _member(opened: Opened, entry: Entry, road: Road, what: str, depth: int) -> MemberFound:
    made = MemberFound(entry.name, None, entry.size or 0, entry.crc32, position=entry.position)
    if entry.fault:
        made.fault, made.why = LOCKED if entry.encrypted else DAMAGED, f"It {entry.fault}."
    if not entry.usable:
        return made
    before = road.held
    try:
        made.piece = _piece(opened, entry, road, f"{what} › {entry.name}", depth, made)
        made.size = made.piece.size
    except Damaged as error:
        made.fault, made.why = DAMAGED, f"It {error}."
    except Over as error:
        road.over = str(error)
        made.fault, made.why = NOT_OPENED, road.over
    except (OSError, Ended, Broken) as error:
        if not isinstance(error, OSError) or error.errno is not None:
            raise
        made.fault, made.why = DAMAGED, f"It does not unpack ({error})."
    except Exception as error:
        LOG.exception("A member could not be unpacked: %r", f"{what} › {entry.name}")
        made.fault, made.why = DAMAGED, f"It could not be unpacked ({type(error).__name__})."
    finally:
        road.held = before
    return made


class _Unpacking:
    """One member's bytes on their one way past the bounds and the hash."""

    def __init__(self, opened: Opened, entry: Entry, road: Road) -> None:
        self._opened = opened
        self._chunks = opened.chunks(entry)
        self._road = road
        self.hashed = hashlib.sha256()
        self.size = 0
        self.doubt = ""
        self.head = b""
        self._crc: int | None = 0 if entry.crc32 is None and opened.checks else None

    @property
    def crc(self) -> int | None:
        """The CRC-32 of all its bytes where the container checked every one of them otherwise; else None."""
        return self._crc if self._opened.checks else None

    def __iter__(self) -> Iterator[bytes]:
        try:
            for chunk in self._chunks:
                self._road.spend(len(chunk))
                self.hashed.update(chunk)
                self.size += len(chunk)
                if len(self.head) < FIRST_BYTES:
                    self.head += bytes(chunk[: FIRST_BYTES - len(self.head)])
                if self._crc is not None:
                    self._crc = zlib.crc32(chunk, self._crc)
                yield chunk
        except Doubted as error:
            self.doubt = f"It {error}."


def _piece(opened: Opened, entry: Entry, road: Road, what: str, depth: int, made: MemberFound) -> PieceFound:
    unpacking = _Unpacking(opened, entry, road)
    stream = iter(unpacking)
    if entry.offset is not None and entry.size is not None and not opened.in_order:
        for _ in stream:
            pass
        return _read(PartView(opened.view, entry.offset, entry.size), unpacking, road, what, depth, made)
    with ExitStack() as stack:
        held, rest = _gather(stream, entry.size, road, stack)
        if rest is None:
            view = BytesView(_joined(held))
            return _read(view, unpacking, road, what, depth, made)
        container = containers.going_forward(b"".join(held[:2])[: containers.HEAD_BYTES])
        if container is None:
            road.let_go(sum(map(len, held)))
            held.clear()
            for _ in rest:
                pass
        else:
            stack.close()
            return _forward(container, emptied(held), rest, unpacking, road, what, depth, made)
    reading = Reading("opaque", "opaque", "Too large to be read inside an archive", length=unpacking.size)
    return _made(unpacking, reading, UNREAD, made)


def _gather(
    stream: Iterator[bytes], size: int | None, road: Road, stack: ExitStack
) -> tuple[list[bytes], Iterator[bytes] | None]:
    """The first bytes, all of them if they may be held; the rest where there is more (None where there is not).

    `stack` takes the lock of those who hold much.
    """
    held: list[bytes] = []
    count = 0
    if size is not None and (size > bounds.MAX_MEMBER_BYTES or road.held + size > bounds.MAX_HELD_BYTES):
        room = 0
    else:
        room = min(bounds.MAX_MEMBER_BYTES, bounds.MAX_HELD_BYTES - road.held)
        if size is not None and size > bounds.BIG_MEMBER:
            stack.enter_context(_ONE_AT_A_TIME)
    locked = size is not None
    for chunk in stream:
        held.append(chunk)
        count += len(chunk)
        road.held += len(chunk)
        if count > room:
            return held, stream
        if count > bounds.BIG_MEMBER and not locked:
            locked = True
            stack.enter_context(_ONE_AT_A_TIME)
    return held, None


def _joined(held: list[bytes]) -> bytes | bytearray:
    if len(held) < 2:
        return held[0] if held else b""
    whole = bytearray()
    for chunk in emptied(held):
        whole += chunk
    return whole


def _read(view: View, unpacking: _Unpacking, road: Road, what: str, depth: int, made: MemberFound) -> PieceFound:
    """A member whose bytes are all at hand."""
    reading, how_far = read_view(view, what)
    piece = _made(unpacking, reading, how_far, made)
    if is_archive(reading):
        if depth < bounds.MAX_DEPTH:
            piece.members, piece.archive_why = open_archive(view, reading, road, what, depth + 1)
            if unpacking.doubt:
                _doubt(piece.members)
        elif not made.fault:
            made.fault, made.why = NOT_OPENED, _TOO_DEEP
    return piece


_TOO_DEEP = f"It lies more than {bounds.MAX_DEPTH} archives deep, so it was not opened."


def _forward(
    container: Container,
    held: Iterator[bytes],
    rest: Iterator[bytes],
    unpacking: _Unpacking,
    road: Road,
    what: str,
    depth: int,
    made: MemberFound,
) -> PieceFound:
    """A member too large to be held that is a container itself: its own members are taken out while it goes past."""
    view = ForwardView(chain(held, road.hold(rest)), road.let_go)
    try:
        opened = container.open(view) if depth < bounds.MAX_DEPTH else None
        members, why = _members(opened, road, what, depth + 1) if opened is not None else ([], container.missing)
        size = view.finish()
    except Broken as broken:
        if broken.view is view:
            raise broken.cause from broken
        raise
    reading = opened.reading(size) if opened is not None else None
    if reading is None:
        reading = Reading(container.kind, container.kind, "Archive too large to be listed here", length=size)
    piece = _made(unpacking, reading, WHOLE, made)
    piece.members, piece.archive_why = members, why
    if unpacking.doubt:
        _doubt(members)
    if opened is None and depth >= bounds.MAX_DEPTH and not made.fault:
        piece.members = None
        made.fault, made.why = NOT_OPENED, _TOO_DEEP
    return piece


def _doubt(members: list[MemberFound]) -> None:
    """What lies in bytes whose check failed is in doubt too, but for members that have a check of their own."""
    for one in members:
        if one.crc32 is not None:
            continue
        if not one.fault:
            one.fault, one.why = DAMAGED, "It lies in an archive whose own check fails."
        if one.piece is not None and one.piece.members:
            _doubt(one.piece.members)


def _made(unpacking: _Unpacking, reading: Reading, how_far: int, made: MemberFound) -> PieceFound:
    if unpacking.doubt and not made.fault:
        made.fault, made.why = DAMAGED, unpacking.doubt
    if unpacking.crc is not None and not made.fault:
        made.crc32 = unpacking.crc
    version = VERSIONS.get(reading.format, 0)
    return PieceFound(unpacking.hashed.digest(), unpacking.size, reading, version, how_far, head=unpacking.head)
