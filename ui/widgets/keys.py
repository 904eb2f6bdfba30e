"""The keys, in words, on a sheet over the window (F1)."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QGridLayout, QVBoxLayout, QWidget

from ui.look import unit
from ui.widgets.basics import Button, Words

KEYS = (
    ("Ctrl 1, Ctrl 2, Ctrl 3", "open a page"),
    ("Ctrl B", "go to the scan box"),
    ("Ctrl F", "search the shelf"),
    ("Ctrl O", "add a folder"),
    ("Ctrl I", "index again"),
    ("Ctrl full stop", "stop what is running"),
    ("Ctrl Return", "the next thing to do on this page"),
    ("Left, Right", "walk through a piece byte by byte"),
    ("Up, Down", "walk through lines, pieces or the ruler's stretches"),
    ("Return", "step into a part, open a member, list them all"),
    ("Alt Up, Alt Home", "back out of a part, to the whole piece"),
    ("Ctrl D", "lay a piece aside, then compare another one with it"),
    ("Tab", "to the next control"),
    ("Ctrl plus, Ctrl minus, Ctrl 0", "larger text, smaller text, as the system has it"),
    ("Ctrl Backspace", "put the last message away"),
    ("F1", "this sheet"),
)


class Keys(QDialog):
    """A list of keys and what they do."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle("Keys")
        step = unit(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(step * 3, step * 2, step * 3, step * 2)
        column.setSpacing(step * 2)
        grid = QGridLayout()
        grid.setHorizontalSpacing(step * 3)
        for at, (keys, does) in enumerate(KEYS):
            name = Words(keys, self, bold=True)
            name.setWordWrap(False)
            grid.addWidget(name, at, 0)
            said = Words(does, self)
            said.setWordWrap(False)
            grid.addWidget(said, at, 1)
        column.addLayout(grid)
        close = Button("Close", self, kind="next")
        close.clicked.connect(self.accept)
        column.addWidget(close, 0, Qt.AlignmentFlag.AlignRight)
