"""The band under the piece's sheet: lay one piece aside, choose another, and see what differs."""

from __future__ import annotations

import re
from dataclasses import dataclass

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QWidget

from ui import text
from ui.look import unit
from ui.widgets.basics import Button, Words

KEYS = "Ctrl+D"


@dataclass(frozen=True, slots=True)
class Held:
    """A piece that is laid aside."""

    sha256: str
    title: str


class CompareBar(QWidget):
    """`wanted` carries the piece laid aside and the one that is shown."""

    wanted = Signal(object, object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: Held | None = None
        self.held: Held | None = None
        step = unit(self)
        self.words = Words("", self, soft=True)
        self.act = Button("Lay aside to compare", self, keys=KEYS, kind="small")
        self.act.clicked.connect(self._act)
        self.forget = Button("Put it back", self, kind="small")
        self.forget.clicked.connect(self._forget)
        row = QHBoxLayout(self)
        row.setContentsMargins(step * 2, step // 2, step, step // 2)
        row.setSpacing(step)
        row.addWidget(self.words, 1)
        row.addWidget(self.forget)
        row.addWidget(self.act)
        self._tell()

    def show_piece(self, sha256: str, title: str) -> None:
        """The piece that is shown now; "" for none."""
        self._shown = Held(sha256, title) if sha256 else None
        self._tell()

    def _act(self) -> None:
        if self._shown is None:
            return
        if self.held is None:
            self.held = self._shown
            self._tell()
        elif self.held.sha256 != self._shown.sha256:
            self.wanted.emit(self.held, self._shown)

    def _forget(self) -> None:
        self.held = None
        self._tell()

    def _tell(self) -> None:
        held, shown = self.held, self._shown
        self.forget.setVisible(held is not None)
        if held is None:
            self.words.say("")
            self.act.setText("Lay aside to compare")
            self.act.setEnabled(shown is not None)
            return
        other = shown is not None and shown.sha256 != held.sha256
        what = re.split(r"[:;] ", held.title, maxsplit=1)[0]
        name = f"{text.short_hash(held.sha256)}, {text.plain(what, 40)}"
        self.words.say(f"Laid aside: {name}." + ("" if other else " Choose another piece to compare it with."))
        self.act.setText("Compare with it")
        self.act.setEnabled(other)
