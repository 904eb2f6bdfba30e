"""What reading costs, in units that a slower or busier machine does not change much."""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Callable, Iterator

ROUNDS = 200_000
SIZE = 512 << 10


def unit() -> float:
    """Processor seconds of a plain loop: about 40 ms on the machine where the bounds were set."""
    started = time.process_time()
    number = 0
    for at in range(ROUNDS):
        number = (number * 31 + at) & 0xFFFF_FFFF
    return time.process_time() - started


def units(run: Callable[[], object], most: float, tries: int = 4) -> float:
    """What `run` costs, in units measured beside it; the least of some tries, where it is over `most`."""
    best = float("inf")
    for _ in range(tries):
        started = time.process_time()
        run()
        taken = time.process_time() - started
        best = min(best, taken / max(unit() if taken > 0.01 else 0.01, 1e-9))
        if best <= most:
            break
    return best


def peak(run: Callable[[], object]) -> int:
    """Bytes of Python's own memory that `run` holds at its worst."""
    tracemalloc.start()
    try:
        run()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def stretched(data: bytes, size: int = SIZE) -> Iterator[tuple[str, bytes]]:
    """A piece made `size` bytes long in ways that keep its beginning: what grows too fast with length shows so."""
    times = size // len(data) + 1
    yield "again and again", (data * times)[:size]
    yield "zeros behind", data.ljust(size, b"\0")
    yield "FFh behind", data.ljust(size, b"\xff")
    half = data[len(data) // 2 :]
    yield "its second half again and again", (data + half * (size // len(half) + 1))[:size]
    yield "its last bytes again and again", (data + data[-16:] * (size // len(data[-16:])))[:size]
