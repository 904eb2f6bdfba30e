"""The cards' own saved listings that a kit is judged with: chosen, named, taken out again."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QVBoxLayout, QWidget

from ui import text
from ui.look import unit
from ui.widgets.basics import Button, Words, wipe

NONE = "None given: the card's mode, board and versions are not checked."


class SavedPick(QWidget):
    """`changed` carries the files that are given now."""

    changed = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.files: tuple[Path, ...] = ()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(unit(self) // 2)
        self._rows = QWidget(self)
        self._column = QVBoxLayout(self._rows)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(2)
        column.addWidget(self._rows)
        self.add = Button("Choose a listing", self, kind="small")
        self.add.setAccessibleName("Choose a saved listing of the cards")
        self.add.clicked.connect(self._choose)
        row = QHBoxLayout()
        row.addWidget(self.add)
        row.addStretch(1)
        column.addLayout(row)
        self.show_files(())

    def show_files(self, files: Sequence[Path]) -> None:
        """Show other files; nothing is said of it."""
        self.files = tuple(dict.fromkeys(files))
        wipe(self._rows)
        if not self.files:
            self._column.addWidget(Words(NONE, self._rows, soft=True, factor=0.9))
        for file in self.files:
            self._column.addWidget(self._row(file))

    def _row(self, file: Path) -> QWidget:
        row = QWidget(self._rows)
        line = QHBoxLayout(row)
        line.setContentsMargins(0, 0, 0, 0)
        name = text.plain(file.name, 80)
        words = Words(name, row)
        words.setToolTip(text.tip(str(file)))
        line.addWidget(words, 1)
        out = Button("Take out", row, kind="small")
        out.setAccessibleName(f"Take out the listing {name}")
        out.clicked.connect(lambda: self._give(tuple(one for one in self.files if one != file)))
        line.addWidget(out)
        return row

    def _choose(self) -> None:
        names, _ = QFileDialog.getOpenFileNames(
            self, "Saved listings of the cards", "", "Texts (*.TXT *.txt *.log);;All files (*)"
        )
        if names:
            self._give((*self.files, *(Path(one) for one in names)))

    def _give(self, files: tuple[Path, ...]) -> None:
        self.show_files(files)
        self.add.setFocus()
        self.changed.emit(self.files)
