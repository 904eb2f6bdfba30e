"""Several lines of text that a person writes or pastes: plain text only, in a fixed width."""

from __future__ import annotations

from PySide6.QtCore import QMimeData
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QFrame, QPlainTextEdit, QWidget

from ui.look import fixed_font, tones_of

MOST = 1 << 20


class TextArea(QPlainTextEdit):
    """Tab leaves it; what is pasted is cut at MOST characters."""

    def __init__(self, name: str, hint: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setPlaceholderText(hint)
        self.setTabChangesFocus(True)
        self.setLineWrapMode(QPlainTextEdit.LineWrapMode.NoWrap)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFont(fixed_font(self.font()))

    def insertFromMimeData(self, source: QMimeData) -> None:
        """Paste as plain text, bounded."""
        self.insertPlainText(source.text()[:MOST])

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw an edge, heavy where the keyboard is."""
        super().paintEvent(event)
        tones = tones_of(self)
        painter = QPainter(self.viewport())
        box = self.viewport().rect()
        if self.hasFocus():
            painter.setPen(QPen(QColor(tones.accent), 2))
            painter.drawRect(box.adjusted(1, 1, -1, -1))
        else:
            painter.setPen(QColor(tones.soft))
            painter.drawRect(box.adjusted(0, 0, -1, -1))
        painter.end()

    def go_to_line(self, number: int) -> None:
        """Stand on a line (from 1) and show it."""
        block = self.document().findBlockByNumber(max(0, number - 1))
        if block.isValid():
            cursor = self.textCursor()
            cursor.setPosition(block.position())
            self.setTextCursor(cursor)
            self.centerCursor()
