"""A question with a few answers side by side, of which one is taken."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QVBoxLayout, QWidget

from ui.widgets.basics import Choice, Words


class OneOf(QWidget):
    """`taken` carries the key of the answer; the arrow keys go from answer to answer."""

    taken = Signal(str)

    def __init__(self, question: str, answers: Sequence[tuple[str, str]], about: str, parent: QWidget) -> None:
        super().__init__(parent)
        self._group = QButtonGroup(self)
        self._choices: dict[str, Choice] = {}
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(Words(question, self, soft=True))
        row = QHBoxLayout()
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        for key, words in answers:
            choice = Choice(words, self)
            choice.setAccessibleName(f"{question} {about}: {words}")
            choice.clicked.connect(lambda _=False, one=key: self.taken.emit(one))
            self._group.addButton(choice)
            self._choices[key] = choice
            row.addWidget(choice)
        row.addStretch(1)
        column.addLayout(row)
        self.take(answers[0][0])

    @property
    def key(self) -> str:
        """The answer that is taken."""
        return next((key for key, one in self._choices.items() if one.isChecked()), "")

    def take(self, key: str) -> None:
        """Take an answer."""
        self._choices[key].setChecked(True)
