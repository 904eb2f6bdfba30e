"""Qt's view of a piece's lines, with the byte that is chosen among them."""

from __future__ import annotations

from PySide6.QtCore import QAbstractListModel, QModelIndex, QObject, QPersistentModelIndex, Qt, Signal

from ui import text
from ui.models.lines import Line, find

Index = QModelIndex | QPersistentModelIndex
LINE_ROLE = Qt.ItemDataRole.UserRole + 1


class FieldLines(QAbstractListModel):
    """Rows are lines. `chosen` is the byte a person stands on, -1 for none."""

    byte_chosen = Signal(int, int)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._lines: list[Line] = []
        self.chosen = -1

    def show_lines(self, lines: list[Line]) -> None:
        """Show other lines; nothing is chosen in them yet."""
        self.beginResetModel()
        self._lines = lines
        self.chosen = -1
        self.endResetModel()

    @property
    def lines(self) -> list[Line]:
        """The lines as they stand."""
        return self._lines

    def choose(self, at: int, near: int = -1) -> int:
        """Choose byte `at`; the row of its line, or -1 when it belongs to none (past the end)."""
        row = find(self._lines, at, near)
        if row >= 0:
            self.chosen = at
            self.byte_chosen.emit(row, at)
            self.dataChanged.emit(self.index(0), self.index(len(self._lines) - 1))
        return row

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """How many lines."""
        return 0 if parent.isValid() else len(self._lines)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """The line itself for the one who draws it; one sentence for who reads it aloud."""
        if not index.isValid() or not 0 <= index.row() < len(self._lines):
            return None
        line = self._lines[index.row()]
        if role == LINE_ROLE:
            return line
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.AccessibleTextRole):
            parts = [f"{line.name}: {line.value}" if line.value else line.name, line.meaning, line.where]
            parts += [f"Enter: {line.action}"] if line.action else []
            return ". ".join(part for part in parts if part)
        if role == Qt.ItemDataRole.ToolTipRole and (line.value or line.source or line.kind in {"part", "member"}):
            first = line.value or line.name
            return text.tip("; ".join(part for part in (first, line.meaning, line.source) if part))
        return None
