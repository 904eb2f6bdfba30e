"""What a new user sees first: what to do, in order, and the demo one click away."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from ui.look import sized, tones_of, unit
from ui.widgets.basics import Button, Sheet, Words


class Numeral(QWidget):
    """A step's number on a punched card corner."""

    def __init__(self, number: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._number = number
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        """As tall as two lines."""
        return QSize(unit(self) * 4, unit(self) * 4)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the number."""
        tones = tones_of(self)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QColor(tones.accent))
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 4, 4)
        painter.setFont(sized(self.font(), 1.3, bold=True))
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, str(self._number))
        painter.end()


class Welcome(QWidget):
    """Three steps and the demo."""

    add_wanted = Signal()
    demo_wanted = Signal(str)
    other_folder_wanted = Signal()

    def __init__(self, demo_folder: Path, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._folder = demo_folder
        step = unit(self)
        sheet = Sheet(self)
        sheet.setMaximumWidth(step * 92)
        sheet.column.setContentsMargins(step * 4, step * 3, step * 4, step * 3)
        sheet.column.setSpacing(step * 2)
        sheet.column.addWidget(Words("Nothing is on the shelf yet", sheet, factor=1.6, bold=True))
        sheet.column.addWidget(
            Words(
                "This program reads firmware downloads, proves which of them belong together for one card, and writes "
                "them to a medium under names DOS can type. It never writes to a card.",
                sheet,
            )
        )
        self.add = Button("Add a folder of downloads", sheet, kind="next")
        self.add.clicked.connect(self.add_wanted)
        sheet.column.addLayout(
            _step(
                1,
                "Add the folder your downloads lie in, or drop it on this window. Archives are read in place; "
                "nothing in them is changed or run.",
                self.add,
                sheet,
            )
        )
        sheet.column.addLayout(
            _step(
                2,
                "Go to Kits and choose the card, or paste how it shows itself into the box above. The kit says "
                "what is ready, what is wrong, and how that is known.",
                None,
                sheet,
            )
        )
        sheet.column.addLayout(
            _step(3, "Go to Media and write the kit to a stick. Every byte is read back and compared.", None, sheet)
        )
        rule = QWidget(sheet)
        rule.setFixedHeight(step // 2)
        sheet.column.addWidget(rule)
        sheet.column.addWidget(Words("Or see it work on invented cards", sheet, factor=1.15, bold=True))
        self.where = Words("", sheet, soft=True)
        self.demo = Button("Run the demo", sheet)
        self.demo.clicked.connect(lambda: self.demo_wanted.emit(str(self._folder)))
        self.other = Button("Another folder for it", sheet)
        self.other.clicked.connect(self.other_folder_wanted)
        buttons = QHBoxLayout()
        buttons.setSpacing(step)
        buttons.addWidget(self.demo)
        buttons.addWidget(self.other)
        buttons.addStretch(1)
        sheet.column.addWidget(self.where)
        sheet.column.addLayout(buttons)
        self.use_folder(demo_folder)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(sheet, 8)
        row.addStretch(1)
        column = QVBoxLayout(self)
        column.addStretch(1)
        column.addLayout(row)
        column.addStretch(2)

    def use_folder(self, folder: Path) -> None:
        """Put the demo into another folder."""
        self._folder = folder
        self.where.say(
            f"It makes sample bundles for three invented cards in {folder}, indexes them, proves a kit, refuses a "
            "tempting wrong one, writes out and reads back."
        )


def _step(number: int, words: str, button: Button | None, parent: QWidget) -> QHBoxLayout:
    row = QHBoxLayout()
    row.setSpacing(unit(parent) * 2)
    row.addWidget(Numeral(number, parent), 0, Qt.AlignmentFlag.AlignTop)
    column = QVBoxLayout()
    column.addWidget(Words(words, parent))
    if button is not None:
        beside = QHBoxLayout()
        beside.addWidget(button)
        beside.addStretch(1)
        column.addLayout(beside)
    row.addLayout(column, 1)
    return row
