"""Contents kept beside the database, by SHA-256: a kit can be made again when the downloads are gone."""

from __future__ import annotations

import contextlib
import hashlib
import os
import secrets
from collections.abc import Iterable
from pathlib import Path

from catalogue.errors import NotWorkable


class Kept:
    """The folder of kept contents."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, sha256: str) -> Path:
        """Where a content lies, or would lie."""
        return self.folder / sha256[:2] / sha256

    def keep(self, sha256: str, chunks: Iterable[bytes]) -> int:
        """Keep a content; its size. Whole or not at all: written beside, proved, flushed, then renamed.

        Raises NotWorkable where the bytes are not those of `sha256`, or the disk does not take them.
        """
        final = self.path(sha256)
        if final.is_file() and self._same(final, sha256):
            return final.stat().st_size
        beside = final.with_name(f".{sha256[:16]}.{os.getpid()}.{secrets.token_hex(4)}.part")
        try:
            final.parent.mkdir(parents=True, exist_ok=True)
            size = self._write(beside, sha256, chunks)
            beside.replace(final)
            _flush_folder(final.parent)
        except OSError as error:
            raise NotWorkable(
                f"{sha256[:16]} cannot be kept in {self.folder}: {error.strerror or error}. Free space there."
            ) from error
        finally:
            with contextlib.suppress(OSError):
                beside.unlink(missing_ok=True)
        return size

    def _write(self, beside: Path, sha256: str, chunks: Iterable[bytes]) -> int:
        hashed = hashlib.sha256()
        size = 0
        with beside.open("xb") as out:
            for chunk in chunks:
                hashed.update(chunk)
                size += len(chunk)
                out.write(chunk)
            out.flush()
            os.fsync(out.fileno())
        if hashed.hexdigest() != sha256:
            raise NotWorkable(f"What was read for {sha256[:16]} has another SHA-256 now: index its folder again.")
        return size

    @staticmethod
    def _same(path: Path, sha256: str) -> bool:
        with contextlib.suppress(OSError), path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest() == sha256
        return False


def _flush_folder(folder: Path) -> None:
    """Make a rename last (not every system lets a folder be opened)."""
    with contextlib.suppress(OSError):
        fd = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)
