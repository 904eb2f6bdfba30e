"""The one promise that hostile input is held against, and how it is measured.

Whatever the bytes, only the documented outcome comes out: a reading, None or a refusal the docstring names, or the
view's own OSError; within 1 s of processor time a MiB (and a second always), and within 300 MB of memory.
"""

from __future__ import annotations

import signal
import sys
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

SECONDS_A_MIB = 1.0
"""Processor time of an input; one shorter than a MiB has as much as a MiB."""
GIVE_UP = 5
"""An input that takes so many times what it may is ended."""
MEMORY = 300 << 20
"""Bytes that the process may grow by while it looks at one input."""
FAR = 64 << 20
TRIES = 3
"""A machine that is busy is no fault of the code: a slow input is slow every time."""
_STATUS, _CLEAR = Path("/proc/self/status"), Path("/proc/self/clear_refs")


@dataclass(frozen=True, slots=True)
class Broken:
    """How an input broke the promise. `mark` is the same for inputs that break it at the same place."""

    mark: str
    text: str


class Peak:
    """The most memory that this process held; knows nothing (0) where the system does not tell."""

    def __init__(self) -> None:
        self.able = _CLEAR.exists()

    def start(self) -> int:
        """The bytes held now; the most that was ever held is forgotten where it lies far above (that is slow)."""
        if not self.able:
            return 0
        worst, now = _held()
        if worst > now + FAR:
            try:
                _CLEAR.write_bytes(b"5")  # proc(5): /proc/pid/clear_refs
            except OSError:
                self.able = False
                return 0
        return now

    def bytes(self) -> int:
        """The peak since then."""
        return _held()[0] if self.able else 0


def _held() -> tuple[int, int]:
    """The bytes held at the worst, and now (proc(5): VmHWM, VmRSS)."""
    data = _STATUS.read_bytes()
    return _told(data, b"VmHWM:"), _told(data, b"VmRSS:")


def _told(data: bytes, key: bytes) -> int:
    at = data.index(key)
    return int(data[at + len(key) : data.index(b"kB", at)]) << 10


_PEAK = Peak()


def seconds_for(size: int) -> float:
    """The processor time that an input of `size` bytes may take."""
    return SECONDS_A_MIB * max(1.0, size / (1 << 20))


class _TooLong(BaseException):
    """An input is given up; no guard under test may take it for a fault of the bytes."""


@contextmanager
def _ended_after(seconds: float) -> Iterator[None]:
    """Raise _TooLong after so much processor time, where the system has such a timer (getitimer(2), ITIMER_PROF)."""
    if not hasattr(signal, "setitimer"):
        yield
        return

    def end(number: int, frame: object) -> None:
        raise _TooLong

    before = signal.signal(signal.SIGPROF, end)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def hold(run: Callable[[bytes], object], data: bytes, *, slow: float = 1.0, tries: int = TRIES) -> Broken | None:
    """Run one input; how it broke the promise, or None. `slow`: how much slower than usual the code runs just now."""
    allowed = seconds_for(len(data)) * slow
    before = _PEAK.start()
    taken = 0.0
    for _ in range(tries):
        started = time.process_time()
        try:
            with _ended_after(GIVE_UP * allowed):
                run(data)
        except _TooLong as error:
            return Broken(f"hang {_place(error)[0]}", f"was given up after {GIVE_UP * allowed:.0f} s of processor time")
        except Exception as error:
            return Broken(*_place(error))
        taken = time.process_time() - started
        if taken <= allowed:
            break
    else:
        return Broken("slow", f"took {taken:.1f} s of processor time, {allowed:.1f} s are allowed")
    grown = _PEAK.bytes() - before
    if grown > MEMORY:
        return Broken("memory", f"took {grown >> 20} MiB of memory, {MEMORY >> 20} MiB are allowed")
    return None


def _place(error: BaseException) -> tuple[str, str]:
    """Where an exception came from: the innermost line of ours, and the innermost line at all."""
    frames = [one for one in traceback.extract_tb(error.__traceback__) if one.filename != __file__]
    inner = frames[-1]
    ours = next((one for one in reversed(frames) if "/catalogue/" in one.filename.replace("\\", "/")), inner)
    mark = f"{type(error).__name__} {Path(ours.filename).name}:{ours.name} {Path(inner.filename).name}:{inner.name}"
    said = str(error).encode("unicode_escape").decode()[:200]
    return mark, f"{type(error).__name__} ({said}) from {Path(ours.filename).name}, {ours.name}, line {ours.lineno}"


def limit_memory(extra: int) -> None:
    """Let this process grow by `extra` bytes of addresses and no further, where the system can hold it to that."""
    if not sys.platform.startswith("linux"):
        return
    import resource

    held = _told(_STATUS.read_bytes(), b"VmSize:") + extra
    hard = resource.getrlimit(resource.RLIMIT_AS)[1]
    resource.setrlimit(resource.RLIMIT_AS, (held if hard == resource.RLIM_INFINITY else min(held, hard), hard))
