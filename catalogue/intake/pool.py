"""The threads that read and hash: two for long files, one for short ones, started when there is work for them.

Hashing gives up Python's lock, so two long files are hashed at once; short files are work for the lock, and a second
thread would only wait for it. Short files travel in batches, so that handing them over costs little.
"""

from __future__ import annotations

import logging
import queue
import threading
from collections.abc import Callable
from dataclasses import dataclass

from catalogue.intake.files import Unread, read_file
from catalogue.intake.hashing import BUFFER_BYTES, Ended
from catalogue.store.found import FileFound, Folder, PieceFound, Stamp

LOG = logging.getLogger("kitproof.intake")
LONG_BYTES = 128 << 10
"""Files from this size on are long."""
LONG_THREADS = 2
BATCH = 64

Job = tuple[bytes, Folder, bytes, "int | None"]
"""The path to open, the folder and the name the file is known by, and the piece that lay there before."""


@dataclass(slots=True)
class Failed:
    """A file that could not be read, and why."""

    folder: Folder
    name: bytes
    replaces: int | None
    why: str


Answer = FileFound | Failed
Read = Callable[[bytes, bytearray, Callable[[], bool]], tuple[Stamp, PieceFound]]


class Pool:
    """Takes jobs, gives answers, in any order. One thread gives and takes."""

    def __init__(self, read: Read = read_file) -> None:
        self._read = read
        self._short: queue.SimpleQueue[list[Job] | None] = queue.SimpleQueue()
        self._long: queue.SimpleQueue[list[Job] | None] = queue.SimpleQueue()
        self._answers: queue.SimpleQueue[list[Answer] | BaseException] = queue.SimpleQueue()
        self._batch: list[Job] = []
        self._long_started = 0
        self._short_started = False
        self._threads: list[threading.Thread] = []
        self._ended = False
        self.outstanding = 0

    def give(self, job: Job, size: int) -> None:
        """Give a file of about `size` bytes to read."""
        self.outstanding += 1
        if size >= LONG_BYTES:
            if self._long_started < LONG_THREADS:
                self._long_started += 1
                self._start(self._long)
            self._long.put([job])
            return
        self._batch.append(job)
        if len(self._batch) >= BATCH:
            self.push()

    def push(self) -> None:
        """Hand over a batch that is not full yet."""
        if not self._batch:
            return
        if not self._short_started:
            self._short_started = True
            self._start(self._short)
        self._short.put(self._batch)
        self._batch = []

    def take(self, wait: float) -> list[Answer]:
        """The answers there are; waits at most so many seconds for the first. Raises what a thread died of."""
        found: list[Answer] = []
        try:
            got = self._answers.get(timeout=wait) if wait > 0 else self._answers.get_nowait()
            while True:
                if isinstance(got, BaseException):
                    raise got
                found += got
                got = self._answers.get_nowait()
        except queue.Empty:
            self.outstanding -= len(found)
            return found

    def close(self) -> None:
        """End the threads, in the middle of a file if need be; answers already there can still be taken."""
        self._ended = True
        for _ in self._threads:
            self._long.put(None)
            self._short.put(None)
        for thread in self._threads:
            thread.join()
        self._threads.clear()

    def _start(self, jobs: queue.SimpleQueue[list[Job] | None]) -> None:
        thread = threading.Thread(target=self._work, args=(jobs,), name="kitproof-read", daemon=True)
        self._threads.append(thread)
        thread.start()

    def _work(self, jobs: queue.SimpleQueue[list[Job] | None]) -> None:
        buffer = bytearray(BUFFER_BYTES)
        while not self._ended and (batch := jobs.get()) is not None:
            answers: list[Answer] = []
            try:
                self._batch_of(batch, buffer, answers)
            except Ended:
                return
            except BaseException as error:
                LOG.exception("Reading failed")
                self._answers.put(error)
                return
            finally:
                if answers:
                    self._answers.put(answers)

    def _batch_of(self, batch: list[Job], buffer: bytearray, answers: list[Answer]) -> None:
        for path, folder, name, replaces in batch:
            if self._ended:
                raise Ended
            try:
                stamp, piece = self._read(path, buffer, self._has_ended)
            except Unread as error:
                answers.append(Failed(folder, name, replaces, str(error)))
            else:
                answers.append(FileFound(folder, name, stamp, piece, replaces))

    def _has_ended(self) -> bool:
        return self._ended
