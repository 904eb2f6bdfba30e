"""Progress on a terminal, as lines of JSON for the window, or none; and how a person's wish to stop gets through."""

from __future__ import annotations

import json
import os
import signal
import sys
import threading
import time
from types import FrameType
from typing import Any

from catalogue.errors import Stopped
from catalogue.shapes.progress import Progress
from catalogue.shapes.visible import visible

PAUSE = 0.1
"""Seconds between two showings."""


class Wish:
    """Whether a person asked to stop: by Ctrl-C, by a polite end signal, or by the line "stop" on standard input."""

    def __init__(self) -> None:
        self.asked = False

    def listen(self, standard_input: bool) -> None:
        """Begin to listen. The second Ctrl-C ends the program at once."""
        if threading.current_thread() is threading.main_thread():
            signal.signal(signal.SIGINT, self._signal)
            signal.signal(signal.SIGTERM, self._signal)
        if standard_input:
            threading.Thread(target=self._read, daemon=True).start()

    def _signal(self, number: int, frame: FrameType | None) -> None:
        if self.asked:
            raise KeyboardInterrupt
        self.asked = True

    def _read(self) -> None:
        heard = b""
        while chunk := os.read(0, 64):
            heard = (heard + chunk)[-64:]
            if b"stop" in heard:
                self.asked = True
                return


class Stoppable:
    """Raises Stopped at the first report after a person asked to stop, shows nothing."""

    def __init__(self, wish: Wish) -> None:
        self.wish = wish

    def report(self, done: int, total: int | None, what: str) -> None:
        """See Progress.report."""
        if self.wish.asked:
            raise Stopped("Stopped, as you asked. What was finished is kept; run the same command again to go on.")
        self.show(done, total, what)

    def show(self, done: int, total: int | None, what: str) -> None:
        """Show it; here nothing."""

    def close(self) -> None:
        """Take away what was shown."""


class Lines(Stoppable):
    """One line of JSON on standard error a tenth of a second at most."""

    _next = 0.0

    def show(self, done: int, total: int | None, what: str) -> None:
        """Print where the work is."""
        now = time.monotonic()
        if now < self._next and done != total:
            return
        self._next = now + PAUSE
        sys.stderr.write(json.dumps({"done": done, "total": total, "what": what}) + "\n")
        sys.stderr.flush()


class Bar(Stoppable):
    """A bar on the terminal, drawn only once the work takes longer than a blink."""

    def __init__(self, wish: Wish) -> None:
        super().__init__(wish)
        self._bar: Any = None
        self._begun = self._next = time.monotonic()

    def show(self, done: int, total: int | None, what: str) -> None:
        """Draw where the work is."""
        now = time.monotonic()
        if now < self._next or now < self._begun + 0.4:
            return
        self._next = now + PAUSE
        if self._bar is None:
            from tqdm import tqdm

            self._bar = tqdm(total=total, file=sys.stderr, leave=False, dynamic_ncols=True, ascii=" .oO")
        self._bar.total = total
        self._bar.n = done
        self._bar.set_description_str(visible(what, 40), refresh=True)

    def close(self) -> None:
        """Take the bar away."""
        if self._bar is not None:
            self._bar.close()


def make(kind: str | None) -> tuple[Progress, Stoppable]:
    """The progress for this call: "lines", or a bar where standard error is a terminal that can draw one."""
    wish = Wish()
    wish.listen(standard_input=kind == "lines")
    shown: Stoppable
    if kind == "lines":
        shown = Lines(wish)
    elif sys.stderr is not None and sys.stderr.isatty() and os.environ.get("TERM", "") != "dumb":
        shown = Bar(wish)
    else:
        shown = Stoppable(wish)
    return shown, shown
