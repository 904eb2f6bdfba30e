"""The form in which a person says so: a reason, and a name where a name is kept with it."""

from __future__ import annotations

from PySide6.QtCore import QSettings, Qt
from PySide6.QtWidgets import QDialog, QHBoxLayout, QVBoxLayout, QWidget

from ui.look import unit
from ui.widgets.basics import Button, Entry, Words

NAME_KEY = "person/name"


class SaySo(QDialog):
    """Asks for a reason (or what `asked` calls it) and, with `named`, a name. `accepted` once both are there."""

    def __init__(
        self,
        title: str,
        words: str,
        action: str,
        settings: QSettings,
        parent: QWidget,
        *,
        named: bool,
        asked: tuple[str, str] = ("Why", "What you know that the bytes do not show"),
        kept: str = "It is kept with your word",
    ) -> None:
        super().__init__(parent)
        self._settings = settings
        self.setWindowTitle(title)
        step = unit(self)
        self.setMinimumWidth(step * 72)
        column = QVBoxLayout(self)
        column.setContentsMargins(step * 3, step * 2, step * 3, step * 2)
        column.setSpacing(step)
        column.addWidget(Words(title, self, factor=1.25, bold=True))
        column.addWidget(Words(words, self))
        column.addSpacing(step)
        self.reason = self._asked(column, *asked)
        self.by = self._asked(column, "Your name", kept) if named else None
        if self.by is not None:
            self.by.setText(str(settings.value(NAME_KEY, "")))
            self.by.textChanged.connect(self._look)
        self.reason.textChanged.connect(self._look)
        row = QHBoxLayout()
        row.addStretch(1)
        leave = Button("Leave it", self)
        leave.clicked.connect(self.reject)
        self.do = Button(action, self, kind="next")
        self.do.clicked.connect(self._done)
        self.do.setDefault(True)
        row.addWidget(leave)
        row.addWidget(self.do)
        column.addSpacing(step)
        column.addLayout(row)
        self._look()
        self.reason.setFocus()
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)

    def _asked(self, column: QVBoxLayout, name: str, hint: str) -> Entry:
        label = Words(name, self, soft=True)
        entry = Entry(self)
        entry.setAccessibleName(name)
        entry.setPlaceholderText(hint)
        entry.setMaxLength(1_000)
        label.setBuddy(entry)
        column.addWidget(label)
        column.addWidget(entry)
        return entry

    def _look(self) -> None:
        self.do.setEnabled(bool(self.reason.text().strip()) and (self.by is None or bool(self.by.text().strip())))

    def _done(self) -> None:
        if self.by is not None:
            self._settings.setValue(NAME_KEY, self.by.text().strip())
        self.accept()
