"""What people decided here: words and pins, each with who, when and why, what has changed since, and a way back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from PySide6.QtCore import Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout, QWidget

from catalogue.shapes.kit import Kit, Pin
from catalogue.shapes.results import WordGiven
from ui import text
from ui.look import tones_of, unit
from ui.tasks import Named
from ui.widgets.basics import Button, Said, Words, wipe

MOST = 60


class Decision(QFrame):
    """One word or pin, and the button that takes it back."""

    def __init__(self, mark: str, title: str, lines: Sequence[str], back: Button, parent: QWidget) -> None:
        super().__init__(parent)
        self.said = Said(mark, title, self, bold=True)
        step = unit(self)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, step // 2, 0, step // 2 + 1)
        row.setSpacing(step * 2)
        column = QVBoxLayout()
        column.setSpacing(1)
        column.addWidget(self.said)
        for line in lines:
            words = Words(line, self)
            words.setContentsMargins(step * 3, 0, 0, 0)
            column.addWidget(words)
        row.addLayout(column, 1)
        row.addWidget(back)
        self.back = back

    def paintEvent(self, event: QPaintEvent) -> None:
        """A line below each."""
        painter = QPainter(self)
        painter.setPen(QColor(tones_of(self).line))
        painter.drawLine(0, self.height() - 1, self.width(), self.height() - 1)
        painter.end()


class DecisionsList(QWidget):
    """Hidden where nothing was decided. `taken_back` carries a WordGiven, `unpinned` a role."""

    taken_back = Signal(object)
    unpinned = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(0)
        self.hide()

    def show_kit(
        self, kit: Kit, words: Sequence[WordGiven], named: Mapping[str, Named], pinned: Mapping[str, str]
    ) -> None:
        """Show the pins of a kit and the words of its family; `pinned` says when, by role."""
        wipe(self)
        self.setVisible(bool(words or kit.pins))
        if self.isHidden():
            return
        old = sum(bool(one.changed) for one in words)
        count = ", ".join(
            part
            for part in (
                text.count(len(words), "word") if words else "",
                text.count(len(kit.pins), "pin") if kit.pins else "",
                f"since {text.count(old, 'word')} something has changed" if old else "",
            )
            if part
        )
        self._column.addWidget(Words(f"Words and pins: {count}", self, factor=1.15, bold=True))
        for pin in kit.pins:
            self._column.addWidget(self._pin(pin, named, pinned.get(pin.role, "")))
        counts = {(one.code, one.sha256) for one in kit.words}
        for word in sorted(words, key=lambda one: not one.changed)[:MOST]:
            self._column.addWidget(self._word(word, (word.code, word.sha256) in counts))
        if len(words) > MOST:
            self._column.addWidget(Words(f"and {len(words) - MOST:,} more words", self, soft=True))

    def _pin(self, pin: Pin, named: Mapping[str, Named], when: str) -> QWidget:
        piece = named.get(pin.sha256, Named(f"piece {text.short_hash(pin.sha256)}")).title
        role = text.name_of(pin.role)
        back = Button("Unpin", self, kind="small")
        back.setAccessibleName(f"Take back the pin of {role}")
        back.clicked.connect(lambda: self.unpinned.emit(pin.role))
        who = ", ".join(part for part in (text.plain(pin.by, 80), when) if part)
        lines = [text.plain(pin.reason, 1_000), *([who] if who else []), "It holds for this one kit."]
        return Decision("note", f"Pin: {text.plain(piece, 120)} for {role}", lines, back, self)

    def _word(self, word: WordGiven, counts: bool) -> QWidget:
        piece = text.last_name(word.place) if word.place else "a piece that lies nowhere now"
        title = f"Word on {text.plain(word.code, 60)}: {piece}, {text.short_hash(word.sha256)}"
        back = Button("Take it back", self, kind="small")
        back.setAccessibleName(f"Take back the word on {word.code} for {text.short_hash(word.sha256)}")
        back.clicked.connect(lambda: self.taken_back.emit(word))
        lines = [
            text.plain(word.reason, 1_000),
            f"{text.plain(word.by, 80)}, {word.at[:10]}",
            *(text.plain(one, 400) for one in word.changed),
            "It counts in this kit." if counts else "It clears nothing in this kit.",
        ]
        return Decision("caution" if word.changed else "note", title, lines, back, self)
