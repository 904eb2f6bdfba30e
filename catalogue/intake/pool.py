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

from catalogue.intake.files import Content, Unread, read_file
from catalogue.intake.hashing import BUFFER_BYTES, Ended

LOG = logging.getLogger("kitproof.intake")
LONG_BYTES = 128 << 10
"""Files from this size on are long."""
LONG_THREADS = 2
BATCH = 64


@dataclass(slots=True)
class Job:
    """A file to read. `tag` is whatever the giver needs to know it by."""

    path: bytes
    size: int
    tag: object


Answer = tuple[Job, Content | str]
"""What the file held, or why it could not be read."""


class Pool:
    """Takes jobs, gives answers, in any order. One thread gives and takes."""

    def __init__(self, read: Callable[[bytes, bytearray, Callable[[], bool]], Content] = read_file) -> None:
        self._read = read
        self._short: queue.SimpleQueue[list[Job] | None] = queue.SimpleQueue()
        self._long: queue.SimpleQueue[list[Job] | None] = queue.SimpleQueue()
        self._answers: queue.SimpleQueue[list[Answer] | BaseException] = queue.SimpleQueue()
        self._batch: list[Job] = []
        self._threads: list[threading.Thread] = []
        self._short_started = False
        self._ended = False
        self.outstanding = 0

    def give(self, job: Job) -> None:
        """Give a file to read."""
        self.outstanding += 1
        if job.size >= LONG_BYTES:
            if len(self._threads) - self._short_started < LONG_THREADS:
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
                answers.extend((job, self._one(job, buffer)) for job in batch)
            except Ended:
                return
            except BaseException as error:
                LOG.exception("Reading failed")
                self._answers.put(error)
                return
            finally:
                if answers:
                    self._answers.put(answers)

    def _one(self, job: Job, buffer: bytearray) -> Content | str:
        if self._ended:
            raise Ended
        try:
            return self._read(job.path, buffer, lambda: self._ended)
        except Unread as error:
            return str(error)
