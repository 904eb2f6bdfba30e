"""Laying one kit's files into its folder: temporary names, fsync, rename, SHA256.SUM last, our mark while it lasts.

The order is what makes a kill harmless. While the folder is not whole it holds HALFWAY.KIT and no SHA256.SUM; both
ends of that stretch are synced before anything else happens, so no half kit can pass as whole.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import AbstractContextManager, ExitStack, suppress
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Protocol

from catalogue.media import disk
from catalogue.media.plan import HALFWAY, SUMS

OPEN_MOST = 32
"""Files whose bytes are on their way to the medium at once."""
TEMPORARY = "WRITE"
"""Begins the temporary names: WRITE00.TMP and on. No piece is ever called .TMP."""
_MARK = "This folder is a half-written kit: do not use anything in it.\r\nWrite the kit again to finish it.\r\n"


class ChangedUnderfoot(Exception):
    """A piece's bytes are not those that were judged; `have` is their digest, or what is wrong in words."""

    def __init__(self, name: str, have: str) -> None:
        super().__init__(name)
        self.name = name
        self.have = have


class Readable(Protocol):
    """What bytes are copied from."""

    def read(self, size: int, /) -> bytes:
        """The next bytes, at most `size`; none at the end."""


@dataclass(frozen=True, slots=True)
class ToLay:
    """One file to write: where its bytes come from, and what they must be."""

    name: str
    sha256: str
    size: int
    open: Callable[[], AbstractContextManager[Readable]]
    program: bool = False


def mark_text(kit_id: str) -> bytes:
    """What HALFWAY.KIT says while the kit is being written."""
    return f"{_MARK}kit {kit_id}\r\n".encode("ascii", errors="replace")


def is_mark(data: bytes, kit_id: str) -> bool:
    """Whether a HALFWAY.KIT is ours and of this kit, whatever version of this program wrote it."""
    first, last = _MARK.partition("\r\n")[0].encode("ascii"), mark_text(kit_id).splitlines(keepends=True)[-1]
    return data.startswith(first) and data.endswith(b"\n" + last)


@dataclass(slots=True)
class Laying:
    """Writes into one folder; a context that tidies up after itself when the work does not come to its end.

    `made_folder` says that the folder was made by this very run.
    """

    folder: Path
    kit_id: str
    made_folder: bool
    seen: Callable[[int, str], None]
    laid: list[Path] = field(default_factory=list)
    temporary: list[Path] = field(default_factory=list)
    count: int = 0
    whole: bool = False
    pool: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(1, "hash while copying"))

    def __enter__(self) -> Laying:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.pool.shutdown()
        if not self.whole:
            self._tidy()

    def begin(self, leftovers: Iterable[str]) -> None:
        """Set our mark, take away an older SHA256.SUM and the temporary files of an earlier attempt of ours."""
        mark = self.folder / HALFWAY
        if not self._is_marked(mark):
            if os.path.lexists(mark):
                mark.unlink()
            self._write_new(mark, mark_text(self.kit_id))
            disk.sync_folder(self.folder)
            if self.made_folder:
                disk.sync_folder(self.folder.parent)
        for name in leftovers:
            (self.folder / name).unlink()
        with suppress(FileNotFoundError):
            (self.folder / SUMS).unlink()
        disk.sync_folder(self.folder)

    def lay(self, files: Iterable[ToLay]) -> None:
        """Write every file under a temporary name, make it last, then give it its own.

        Raises ChangedUnderfoot for the first whose bytes are not what they must be, OSError where the medium fails.
        """
        waiting = list(files)
        while waiting:
            batch, waiting = waiting[:OPEN_MOST], waiting[OPEN_MOST:]
            with ExitStack() as open_files:
                written = []
                for one in batch:
                    path = self._temporary()
                    file = os.open(path, _NEW, 0o755 if one.program else 0o644)
                    open_files.callback(os.close, file)
                    self.temporary.append(path)
                    self._copy(one, file)
                    disk.forget(file)
                    written.append((path, one, file))
                for _, _, file in written:
                    os.fsync(file)
                    disk.forget(file)
            for path, one, _ in written:
                path.replace(self.folder / one.name)
                self.temporary.remove(path)
                self.laid.append(self.folder / one.name)
        disk.sync_folder(self.folder)

    def finish(self, sums: bytes, kits: bytes, kits_path: Path) -> None:
        """SHA256.SUM makes the folder a kit; then the medium's own list; then our mark goes."""
        kits_new = self._paper(kits)
        self._paper(sums).replace(self.folder / SUMS)
        self.laid.insert(0, self.folder / SUMS)  # first to go, should anything fail before it lasts
        disk.sync_folder(self.folder)
        self.whole = True
        kits_new.replace(kits_path)
        disk.sync_folder(kits_path.parent)
        (self.folder / HALFWAY).unlink()
        disk.sync_folder(self.folder)

    def _is_marked(self, mark: Path) -> bool:
        try:
            return is_mark(disk.small(mark, 4_096) or b"", self.kit_id)
        except (FileNotFoundError, disk.NotPlain):
            return False

    def _paper(self, data: bytes) -> Path:
        path = self._temporary()
        self.temporary.append(path)
        self._write_new(path, data)
        return path

    def _temporary(self) -> Path:
        while True:
            path = self.folder / f"{TEMPORARY}{self.count:02d}.TMP"
            self.count += 1
            if not os.path.lexists(path):
                return path

    def _write_new(self, path: Path, data: bytes) -> None:
        file = os.open(path, _NEW, 0o644)
        try:
            _write_all(file, data)
            os.fsync(file)
            disk.forget(file)
        finally:
            os.close(file)

    def _copy(self, one: ToLay, file: int) -> None:
        """Copy the bytes and hash them on the way; hashing runs beside writing."""
        done = hashlib.sha256()
        hashing: Future[None] | None = None
        total = 0
        with one.open() as source:
            while chunk := source.read(disk.CHUNK):
                total += len(chunk)
                if total > one.size:
                    raise ChangedUnderfoot(one.name, f"more than {one.size} bytes")
                if hashing is not None:
                    hashing.result()
                hashing = self.pool.submit(done.update, chunk)
                _write_all(file, chunk)
                self.seen(len(chunk), one.name)
        if hashing is not None:
            hashing.result()
        if done.hexdigest() != one.sha256:
            raise ChangedUnderfoot(one.name, done.hexdigest())

    def _tidy(self) -> None:
        """Take away what this run wrote; what cannot be taken away keeps our mark and passes as nothing whole."""
        for path in (*self.temporary, *self.laid):
            with suppress(OSError):
                path.unlink()
        with suppress(OSError):
            if {one.name for one in self.folder.iterdir()} <= {HALFWAY}:
                with suppress(FileNotFoundError):
                    (self.folder / HALFWAY).unlink()
                if self.made_folder:
                    self.folder.rmdir()


_NEW = os.O_WRONLY | os.O_CREAT | os.O_EXCL
for _flag in ("O_NOFOLLOW", "O_CLOEXEC", "O_BINARY"):
    _NEW |= getattr(os, _flag, 0)


def _write_all(file: int, data: bytes) -> None:
    rest = memoryview(data)
    while rest:
        rest = rest[os.write(file, rest) :]
