"""Get the bytes of a piece again, from wherever it lies, and prove that they are the ones that were indexed.

Files first, then members of archives (unpacked again, within the same bounds), then what is kept beside the catalogue.
"""

from __future__ import annotations

import hashlib
import io
import os
import stat
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import chain
from types import TracebackType
from typing import BinaryIO, Self

from catalogue import formats
from catalogue.errors import NotWorkable
from catalogue.formats.view import BytesView, FileView, PartView, View
from catalogue.intake import bounds, containers
from catalogue.intake.containers.container import Damaged, Doubted, Entry, Opened
from catalogue.intake.files import OPEN_FLAGS, reason
from catalogue.intake.forward import Broken, ForwardView, emptied
from catalogue.store import Store
from catalogue.store.ways import Way, Ways

MOST = 64 << 20
CHUNK = 1 << 20


class _Lost(Exception):
    """A way does not lead to the bytes any more; the text says why."""


@dataclass(slots=True)
class _Open:
    """A container on a way in, and how far its entries were taken where they come once and in order."""

    opened: Opened
    once: bool
    entries: Iterator[Entry]
    last: int = -1


class Opener:
    """Opens ways, and keeps the last file and the archives on the way in open for the next one. Close it."""

    def __init__(self) -> None:
        self._fd = -1
        self._path = b""
        self._views: dict[tuple[int, ...], View] = {}
        self._opened: dict[tuple[int, ...], _Open] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file that is open."""
        self._views.clear()
        self._opened.clear()
        self._path = b""
        if self._fd >= 0:
            os.close(self._fd)
            self._fd = -1

    @property
    def descriptor(self) -> int:
        """The file that is open."""
        return self._fd

    def chunks(self, way: Way) -> Iterator[bytes]:
        """The bytes at the end of a way. Raises _Lost and OSError."""
        self._enter(way.path)
        if not way.steps:
            view = self._views[()]
            for at in range(0, view.size, CHUNK):
                yield view.at(at, CHUNK)
            return
        *outer, last = way.steps
        try:
            opened, entry = self._entry(tuple(outer), last)
            yield from opened.chunks(entry)
        except Doubted:
            return  # all its bytes were given; whether they are the wanted ones their digest tells
        except (Damaged, Broken) as error:
            raise _Lost(f"it {error}") from error

    def _enter(self, path: bytes) -> None:
        if path == self._path:
            return
        self.close()
        try:
            fd = os.open(path, OPEN_FLAGS)
        except OSError as error:
            raise _Lost(reason(error)) from error
        looked = os.fstat(fd)
        if not stat.S_ISREG(looked.st_mode):
            os.close(fd)
            raise _Lost("it is no longer a regular file")
        self._fd, self._path = fd, path
        self._views[()] = FileView(fd, looked.st_size)

    def _entry(self, steps: tuple[int, ...], position: int) -> tuple[Opened, Entry]:
        """The container at the end of these steps, and its entry at `position`."""
        here = self._open(steps)
        if here.once and position <= here.last:
            self._forget(steps)
            here = self._open(steps)
        if not here.once:
            found = here.opened.find(position)
        else:
            found = None
            while here.last < position and (found := next(here.entries, None)) is not None:
                here.last = found.position
        if found is None or found.position != position:
            raise _Lost("the archive has changed")
        return here.opened, found

    def _open(self, steps: tuple[int, ...]) -> _Open:
        if steps not in self._opened:
            view = self._view(steps)
            opened = _container(view)
            once = opened.in_order or isinstance(view, ForwardView)
            self._opened[steps] = _Open(opened, once, opened.entries())
        return self._opened[steps]

    def _forget(self, steps: tuple[int, ...]) -> None:
        """Open this archive, and what lies in it, anew next time; what it lies in too, where that comes once."""
        for other in [one for one in self._opened if one[: len(steps)] == steps]:
            del self._opened[other]
        for other in [one for one in self._views if len(one) > len(steps) and one[: len(steps)] == steps]:
            del self._views[other]
        if isinstance(self._views.get(steps), ForwardView):
            del self._views[steps]

    def _view(self, steps: tuple[int, ...]) -> View:
        """The archive at the end of these steps; of those unpacked into memory only the ones on this way are kept."""
        if steps in self._views:
            return self._views[steps]
        for other in [one for one in self._views if one != steps[: len(one)]]:
            del self._views[other]
            self._opened.pop(other, None)
        *outer, last = steps
        opened, entry = self._entry(tuple(outer), last)
        if entry.offset is not None and entry.size is not None and not opened.in_order:
            self._views[steps] = PartView(opened.view, entry.offset, entry.size)
            return self._views[steps]
        chunks = opened.chunks(entry)
        held: list[bytes] = []
        count = 0
        try:
            for chunk in chunks:
                held.append(chunk)
                count += len(chunk)
                if count > bounds.MAX_MEMBER_BYTES:
                    self._views[steps] = ForwardView(chain(emptied(held), chunks))
                    return self._views[steps]
        except Doubted:
            pass
        except (Damaged, Broken) as error:
            raise _Lost(f"an archive on the way {error}") from error
        self._views[steps] = BytesView(b"".join(held))
        return self._views[steps]


def _container(view: View) -> Opened:
    """The container in `view`. Raises _Lost where there is none."""
    try:
        if isinstance(view, ForwardView):
            row = containers.going_forward(view.at(0, containers.HEAD_BYTES))
            opened = row.open(view) if row is not None else None
        else:
            reading = formats.known(view)
            opened = containers.opened(view, reading) if reading is not None else None
    except (OSError, Damaged, Broken):
        raise
    except Exception as error:
        raise _Lost(f"the archive could not be opened ({type(error).__name__})") from error
    if opened is None:
        raise _Lost("the archive has changed")
    return opened


def each(store: Store, sha256s: Iterable[str], most: int = MOST) -> Iterator[tuple[str, bytes | None]]:
    """Many pieces, each proved; None for one that is gone, has changed or is longer than `most`.

    In an order that opens each archive once, not in that of `sha256s`. At most `most` bytes are held at a time.
    """
    known = store.ways_to(list(sha256s))
    order = sorted(known.values(), key=lambda one: (one.ways[0].path, one.ways[0].steps) if one.ways else (b"", ()))
    with Opener() as opener:
        for one in order:
            try:
                yield one.sha256, _bytes(store, opener, one, most)
            except NotWorkable:
                yield one.sha256, None


def piece_bytes(store: Store, sha256: str, most: int = MOST) -> bytes:
    """The bytes of a piece, proved. Raises NotWorkable where it is gone, has changed, or is longer than `most`."""
    with Opener() as opener:
        return _bytes(store, opener, _ways(store, sha256), most)


@contextmanager
def open_piece(store: Store, sha256: str) -> Iterator[BinaryIO]:
    """A stream of the bytes of a piece, of any length; proved before the first byte is given and again at the last.

    Raises NotWorkable where it is gone or has changed, also from `read` where it changes meanwhile.
    """
    known = _ways(store, sha256)
    with Opener() as opener:
        if known.size <= bounds.BIG_MEMBER:
            yield io.BytesIO(_bytes(store, opener, known, bounds.BIG_MEMBER))
            return
        why: list[str] = []
        for way in (*known.ways, *_kept_way(store, sha256)):
            try:
                if _digest(opener.chunks(way)) != sha256:
                    raise _Lost("its bytes have changed")
            except (_Lost, OSError) as error:
                why.append(_told(way, error))
                opener.close()
                continue
            with io.BufferedReader(_Proved(opener.chunks(way), known), CHUNK) as stream:
                yield stream
            return
        raise _gone(known, why)


@contextmanager
def open_file(store: Store, sha256: str) -> Iterator[int]:
    """A descriptor of a file that holds the piece, proved before it is given; not for members of archives.

    Raises NotWorkable where no file holds it any more.
    """
    known = _ways(store, sha256)
    why: list[str] = []
    with Opener() as opener:
        for way in (*known.ways, *_kept_way(store, sha256)):
            if way.steps:
                continue
            try:
                if _digest(opener.chunks(way)) == sha256:
                    yield opener.descriptor
                    return
                why.append(_told(way, _Lost("its bytes have changed")))
            except (_Lost, OSError) as error:
                why.append(_told(way, error))
            opener.close()
    raise _gone(known, why)


def _ways(store: Store, sha256: str) -> Ways:
    known = store.ways_to([sha256]).get(sha256)
    if known is None:
        kept = store.kept_path(sha256)
        if kept is None:
            raise NotWorkable(f"No piece with the SHA-256 {sha256[:16]} is in the catalogue.")
        return Ways(sha256, kept.stat().st_size, ())
    return known


def _bytes(store: Store, opener: Opener, known: Ways, most: int) -> bytes:
    if known.size > most:
        raise NotWorkable(
            f"The piece {known.sha256[:16]} is longer than {most >> 20} MiB, too long to be looked through."
        )
    why: list[str] = []
    for way in (*known.ways, *_kept_way(store, known.sha256)):
        try:
            data = b"".join(_bounded(opener.chunks(way), known.size))
            if hashlib.sha256(data).hexdigest() == known.sha256:
                return data
            why.append(_told(way, _Lost("its bytes have changed")))
        except (_Lost, OSError) as error:
            why.append(_told(way, error))
        opener.close()
    raise _gone(known, why)


def _bounded(chunks: Iterator[bytes], most: int) -> Iterator[bytes]:
    for chunk in chunks:
        most -= len(chunk)
        if most < 0:
            raise _Lost("it has grown")
        yield chunk


def _kept_way(store: Store, sha256: str) -> tuple[Way, ...]:
    path = store.kept_path(sha256)
    return () if path is None else (Way(os.fsencode(path)),)


def _told(way: Way, error: Exception) -> str:
    place = " › ".join((os.fsdecode(way.path), *way.inside))
    return f"{place}: {reason(error) if isinstance(error, OSError) else error}"


def _gone(known: Ways, why: list[str]) -> NotWorkable:
    tried = "; ".join(why[:3]) or "it lies nowhere any more"
    return NotWorkable(f"The bytes of {known.sha256[:16]} cannot be had ({tried}). Index its folder again.")


def _digest(chunks: Iterator[bytes]) -> str:
    hashed = hashlib.sha256()
    for chunk in chunks:
        hashed.update(chunk)
    return hashed.hexdigest()


class _Proved(io.RawIOBase):
    """Gives out chunks, and at their end refuses to have given out anything but the piece."""

    def __init__(self, chunks: Iterator[bytes], known: Ways) -> None:
        super().__init__()
        self._chunks = chunks
        self._known = known
        self._hashed = hashlib.sha256()
        self._left = b""
        self._done = False

    def readable(self) -> bool:
        """It can only be read."""
        return True

    def readinto(self, buffer: bytearray | memoryview) -> int:  # type: ignore[override]
        """See io.RawIOBase. Raises NotWorkable where the bytes have changed meanwhile."""
        if not self._left and not self._done:
            try:
                self._left = next(self._chunks, b"")
            except (_Lost, OSError) as error:
                raise NotWorkable(
                    f"The piece {self._known.sha256[:16]} went away while it was read ({error})."
                ) from error
            self._hashed.update(self._left)
            if not self._left:
                self._done = True
                if self._hashed.hexdigest() != self._known.sha256:
                    raise NotWorkable(f"The piece {self._known.sha256[:16]} changed while it was read.")
        count = min(len(buffer), len(self._left))
        buffer[:count] = self._left[:count]
        self._left = self._left[count:]
        return count
