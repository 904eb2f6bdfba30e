"""The band over a part that was stepped into: what one is inside of, whether its bytes were unpacked, the way back."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from ui.look import tones_of, unit
from ui.text import INTO
from ui.widgets.basics import Button, Said, Words

UNPACKED = "Unpacked bytes: they do not lie in the file as they stand here. Offsets count from their own first byte."
MOST_SHOWN = 2
MOST_TITLE = 56


class WayBar(QWidget):
    """Hidden at the whole of a piece that was chosen from the list."""

    back = Signal()
    all_back = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        step = unit(self)
        self._inside = Words("", self)
        self._unpacked = Said("note", UNPACKED, self)
        self.out = Button("Back out", self, keys="Alt+Up", kind="small")
        self.out.clicked.connect(self.back)
        self.all_out = Button("To the whole piece", self, keys="Alt+Home", kind="small")
        self.all_out.clicked.connect(self.all_back)
        words = QVBoxLayout()
        words.setSpacing(step // 2)
        words.addWidget(self._inside)
        words.addWidget(self._unpacked)
        buttons = QHBoxLayout()
        buttons.setSpacing(step)
        buttons.addWidget(self.out)
        buttons.addWidget(self.all_out)
        buttons.addStretch(1)
        words.addLayout(buttons)
        row = QHBoxLayout(self)
        row.setContentsMargins(step * 2, step // 2, step, step // 2)
        row.addLayout(words, 1)
        self.hide()

    @property
    def words(self) -> str:
        """What the band says."""
        return " ".join((self._inside.text(), UNPACKED if not self._unpacked.isHidden() else ""))

    def show_way(self, titles: Sequence[str], *, unpacked: bool, came_from: str = "") -> None:
        """Show what one is inside of, without the piece itself; nothing where `titles` is empty and nobody came."""
        shown = [_cut(one) for one in titles]
        if len(shown) > MOST_SHOWN:
            shown = ["…", *shown[-MOST_SHOWN:]]
        said = f"Inside: {INTO.join(shown)}" if shown else f"Opened from {came_from}" if came_from else ""
        self._inside.say(said)
        self._unpacked.setVisible(unpacked)
        self.all_out.setVisible(len(titles) > 1)
        self.setVisible(bool(said))

    def paintEvent(self, event: QPaintEvent) -> None:
        """A band with a stripe."""
        tones = tones_of(self)
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(tones.band))
        painter.fillRect(0, 0, 5, self.height(), QColor(tones.accent))
        painter.setPen(QColor(tones.line))
        painter.drawLine(0, self.height() - 1, self.width(), self.height() - 1)
        painter.end()


def _cut(title: str) -> str:
    """A title whose beginning and end are left where it is long."""
    half = MOST_TITLE // 2
    return title if len(title) <= MOST_TITLE else f"{title[:half]}…{title[-half:]}"
