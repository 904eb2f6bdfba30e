"""Two strips at the foot of the window: what is running, and the last thing said."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QWidget

from ui.look import tones_of, unit
from ui.text import count, plain
from ui.widgets.basics import Button, Said, Words


class Gauge(QWidget):
    """How far a job is, as a filled length; without a known end, a block whose place follows the count."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._done = 0
        self._total: int | None = None
        self.setAccessibleName("How far the job is")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def show_at(self, done: int, total: int | None) -> None:
        """Draw `done` of `total`."""
        self._done, self._total = done, total
        self.setAccessibleDescription(f"{done:,} of {total:,}" if total else f"{done:,} done")
        self.update()

    def sizeHint(self) -> QSize:
        """A thin bar."""
        return QSize(160, round(unit(self) * 1.4))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the bar with a tick at each tenth."""
        tones = tones_of(self)
        painter = QPainter(self)
        box = self.rect().adjusted(0, 0, -1, -1)
        painter.fillRect(box, QColor(tones.sheet))
        if self._total:
            width = round(box.width() * min(1.0, self._done / self._total))
            painter.fillRect(box.left(), box.top(), width, box.height(), QColor(tones.accent))
        elif self._done:
            block = max(12, box.width() // 8)
            left = (self._done * 7) % max(1, box.width() - block)
            painter.fillRect(box.left() + left, box.top(), block, box.height(), QColor(tones.accent))
        painter.setPen(QColor(tones.line))
        painter.drawRect(box)
        for part in range(1, 10):
            across = box.left() + box.width() * part // 10
            painter.drawLine(across, box.bottom() - box.height() // 3, across, box.bottom())
        painter.end()


class JobStrip(QWidget):
    """What is running, how far it is, what it is at, and a way to stop it. Hidden when nothing runs."""

    stop_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._what = Words("", self, bold=True)
        self._what.setWordWrap(False)
        self._gauge = Gauge(self)
        self._at = Words("", self, soft=True)
        self._at.setWordWrap(False)
        self._at.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self._at_text = ""
        self._stop = Button("Stop", self, keys="Ctrl+.")
        self._stop.clicked.connect(self._stopping)
        row = QHBoxLayout(self)
        step = unit(self)
        row.setContentsMargins(step * 2, step // 2, step * 2, step // 2)
        row.setSpacing(step * 2)
        row.addWidget(self._what)
        row.addWidget(self._gauge, 1)
        row.addWidget(self._at, 2)
        row.addWidget(self._stop)
        self.hide()

    def begin(self, what: str) -> None:
        """Show the strip for a new job."""
        self._what.say(what)
        self._gauge.show_at(0, None)
        self._tell("starting")
        self._stop.setEnabled(True)
        self._stop.setText("Stop")
        self.show()

    def show_at(self, done: int, total: int | None, what: str) -> None:
        """Show where the job is."""
        self._gauge.show_at(done, total)
        far = f"{done:,} of {total:,}" if total else count(done, "file so far", "files so far")
        self._tell(f"{far}: {what}" if what else far)

    def end(self) -> None:
        """Hide the strip."""
        self.hide()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Cut what it is at to the new width."""
        super().resizeEvent(event)
        self._tell(self._at_text)

    def _tell(self, text: str) -> None:
        self._at_text = text
        shown = plain(text, 300)
        self._at.setText(
            self._at.fontMetrics().elidedText(shown, Qt.TextElideMode.ElideMiddle, max(80, self._at.width()))
        )

    def _stopping(self) -> None:
        self._stop.setEnabled(False)
        self._stop.setText("Stopping")
        self.stop_wanted.emit()


class SayStrip(QWidget):
    """The last thing said: a failure, or what was done. It stays until the next one or until it is put away."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._said = Said("note", "", self)
        self._away = Button("Put away", self, keys="Ctrl+Backspace", kind="small")
        self._away.clicked.connect(self.hide)
        row = QHBoxLayout(self)
        step = unit(self)
        row.setContentsMargins(step * 2, step // 2, step * 2, step // 2)
        row.addWidget(self._said, 1)
        row.addWidget(self._away, 0, Qt.AlignmentFlag.AlignTop)
        self.hide()

    @property
    def text(self) -> str:
        """What is shown, empty when the strip is away."""
        return self._said.words.text() if not self.isHidden() else ""

    def say(self, level: str, text: str) -> None:
        """Show one sentence with its shape."""
        self._said.say(level, text)
        self.setAccessibleName(text)
        self.show()

    def paintEvent(self, event: QPaintEvent) -> None:
        """A line above it."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(tones_of(self).band))
        painter.setPen(QColor(tones_of(self).line))
        painter.drawLine(0, 0, self.width(), 0)
        painter.end()
