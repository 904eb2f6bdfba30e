"""A view on bytes that come once: what was read lies a little way behind, and what lies behind that is gone."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator

KEPT_BYTES = 1 << 20
"""How far behind the furthest byte asked for can still be looked back."""
UNKNOWN = 1 << 62
"""The size of a view whose end has not been met."""


class Broken(Exception):
    """The bytes under a view failed with `cause`, which is for whoever made `view` to answer, not for its reader."""

    def __init__(self, view: ForwardView, cause: Exception) -> None:
        super().__init__(str(cause))
        self.view = view
        self.cause = cause


class ForwardView:
    """See formats.view.View; `at` may ask for no byte that lies more than KEPT_BYTES behind what was asked for before.

    `size` is UNKNOWN until the end was met. `let_go` is told of bytes that are held no longer. Where taking bytes
    fails, Broken is raised, now and ever after.
    """

    def __init__(self, chunks: Iterator[bytes], let_go: Callable[[int], None] = lambda count: None) -> None:
        self._chunks = chunks
        self._let_go = let_go
        self._held: deque[bytes] = deque()
        self._start = 0
        self._stop = 0
        self._failed: Exception | None = None
        self.size = UNKNOWN

    def at(self, offset: int, length: int) -> bytes:
        """See View.at. Raises Broken, and ValueError for bytes that are gone."""
        if offset < 0 or length <= 0:
            return b""
        self._drop(offset - KEPT_BYTES)
        while self._stop < offset + length and self._pull():
            self._drop(min(offset, self._stop) - KEPT_BYTES)
        if offset < self._start:
            raise ValueError(f"bytes at {offset} are gone")
        return self._given(offset, length)

    def finish(self) -> int:
        """Take what is left, and let it go; how many bytes there were in all. Raises Broken."""
        self._drop(self._stop)
        while self._pull():
            self._drop(self._stop)
        return self._stop

    def _pull(self) -> bool:
        if self._failed is not None:
            raise Broken(self, self._failed) from self._failed
        if self._stop == self.size:
            return False
        try:
            chunk = next(self._chunks, None)
        except Exception as error:
            self._failed = error
            raise Broken(self, error) from error
        if chunk is None:
            self.size = self._stop
            return False
        self._held.append(chunk)
        self._stop += len(chunk)
        return True

    def _drop(self, before: int) -> None:
        while self._held and self._start + len(self._held[0]) <= before:
            gone = len(self._held.popleft())
            self._start += gone
            self._let_go(gone)

    def _given(self, offset: int, length: int) -> bytes:
        at = self._start
        parts: list[bytes] = []
        for held in self._held:
            if at >= offset + length:
                break
            if at + len(held) > offset:
                parts.append(held[max(0, offset - at) : offset + length - at])
            at += len(held)
        return parts[0] if len(parts) == 1 else b"".join(parts)


def emptied(held: list[bytes]) -> Iterator[bytes]:
    """The chunks, each of them no longer kept here once it is given."""
    for number, chunk in enumerate(held):
        held[number] = b""
        yield chunk
    held.clear()
