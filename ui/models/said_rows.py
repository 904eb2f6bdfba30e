"""A short list of things with a title, a line below it and a shape: families, targets, kits on a medium."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QAbstractListModel, QModelIndex, QObject, QPersistentModelIndex, Qt

from ui import text

Index = QModelIndex | QPersistentModelIndex
ROW_ROLE = Qt.ItemDataRole.UserRole + 1


@dataclass(frozen=True, slots=True)
class SaidRow:
    """One row. `key` is what it stands for; `mark` a shape, "" for none."""

    key: str
    title: str
    below: str = ""
    mark: str = ""


class SaidRows(QAbstractListModel):
    """Rows as a list model."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._rows: list[SaidRow] = []

    @property
    def rows(self) -> list[SaidRow]:
        """The rows as they stand."""
        return self._rows

    def show_rows(self, rows: Sequence[SaidRow]) -> None:
        """Show other rows."""
        self.beginResetModel()
        self._rows = list(rows)
        self.endResetModel()

    def place_of(self, key: str) -> int:
        """The position of the row with that key, -1 if there is none."""
        return next((at for at, row in enumerate(self._rows) if row.key == key), -1)

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """How many rows there are."""
        return 0 if parent.isValid() else len(self._rows)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """The row for the one who draws it; one sentence for who reads it aloud."""
        if not index.isValid() or not 0 <= index.row() < len(self._rows):
            return None
        row = self._rows[index.row()]
        if role == ROW_ROLE:
            return row
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.AccessibleTextRole):
            return f"{row.title}. {row.below}" if row.below else row.title
        if role == Qt.ItemDataRole.ToolTipRole:
            return text.tip(f"{row.title}; {row.below}" if row.below else row.title)
        return None
