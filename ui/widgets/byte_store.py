"""Bytes of the piece that is shown, fetched in stretches by a lane as they come into view."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from ui import tasks
from ui.jobs import Stopper
from ui.session import Session

STRETCH = 65_536
MOST_STRETCHES = 64


class ByteStore(QObject):
    """`peek` answers with what is here and asks for what is not; `arrived` says that more can be had."""

    arrived = Signal()

    def __init__(self, session: Session, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._what = ""
        self._size = 0
        self._whole: bytes | None = None
        self._have: dict[int, bytes] = {}
        self._asked: set[int] = set()
        self.trouble = ""

    def show_piece(self, what: str, size: int) -> None:
        """Hold another piece's bytes from now on."""
        self._what = what
        self._size = size
        self._whole = None
        self._have.clear()
        self._asked.clear()
        self.trouble = ""

    def show_bytes(self, data: bytes) -> None:
        """Hold bytes that are here already, those of a part that was unpacked, and ask for none."""
        self._what = ""
        self._size = len(data)
        self._asked.clear()
        self.trouble = ""
        self._have.clear()
        self._whole = data

    def peek(self, at: int) -> int | None:
        """The byte at `at`, or None while it is not here."""
        if not 0 <= at < self._size:
            return None
        if self._whole is not None:
            return self._whole[at]
        stretch = at // STRETCH
        have = self._have.get(stretch)
        if have is None:
            self._ask(stretch)
            return None
        return have[at - stretch * STRETCH] if at - stretch * STRETCH < len(have) else None

    def _ask(self, stretch: int) -> None:
        if stretch in self._asked or self.trouble:
            return
        self._asked.add(stretch)
        what, context = self._what, self._session.context
        length = min(STRETCH, self._size - stretch * STRETCH)

        def work(stopper: Stopper) -> bytes:
            return tasks.bytes_of(context, what, stretch * STRETCH, length)

        def done(data: bytes) -> None:
            if what != self._what:
                return
            while len(self._have) >= MOST_STRETCHES:
                gone = next(iter(self._have))
                del self._have[gone]
                self._asked.discard(gone)
            self._have[stretch] = data
            self.arrived.emit()

        def failed(sentence: str) -> None:
            if what == self._what:
                self.trouble = sentence
                self.arrived.emit()

        self._session.lane("bytes").ask(work, done, failed)
