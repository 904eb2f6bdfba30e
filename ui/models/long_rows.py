"""Long lists inside a piece for Qt: members of an archive, entries of a list, claims. A row is made when it is seen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, QPersistentModelIndex, Qt

from ui import text
from ui.models.lines import member_words
from ui.models.ways import Way, part_at

if TYPE_CHECKING:
    from catalogue.shapes.piece import PieceDetail
    from catalogue.shapes.reading import DateClaim, ListEntry, Member, VersionClaim

Index = QModelIndex | QPersistentModelIndex
ROW_ROLE = Qt.ItemDataRole.UserRole + 1


@dataclass(frozen=True, slots=True)
class LongRow:
    """One row: what stands above, what below, its shape, and the member that Enter opens ("" for none)."""

    upper: str
    lower: str = ""
    mark: str = ""
    link: str = ""


def _member(one: Member) -> LongRow:
    mark, facts = member_words(one)
    return LongRow(text.plain(one.name, 400) or "(no name)", facts, mark, "" if one.folder else one.name)


def _entry(one: ListEntry) -> LongRow:
    return LongRow(text.plain(one.name, 400) or "(no name)", f"line {one.line:,}, {one.algorithm} {one.digest}")


def _claim(one: VersionClaim | DateClaim) -> LongRow:
    where = "" if one.offset is None else f", at {text.offset(one.offset)}"
    return LongRow(text.plain(one.value, 200), f"{text.plain(one.source, 300)}{where}")


def items_of(detail: PieceDetail, long: str, way: Way) -> tuple[Sequence[Any], Callable[[Any], LongRow]]:
    """The items of one of a reading's long lists, and how a row is made of one. Raises KeyError for another name."""
    reading = part_at(detail.reading, way)
    claims = reading if way else detail.info
    lists: dict[str, tuple[Sequence[Any], Callable[[Any], LongRow]]] = {
        "members": (reading.members, _member),
        "entries": (reading.entries, _entry),
        "versions": (claims.versions, _claim),
        "dates": (claims.dates, _claim),
    }
    return lists[long]


class LongRows(QAbstractTableModel):
    """Items as a table of one column; nothing is made for rows that are not looked at."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._items: Sequence[Any] = ()
        self._made: Callable[[Any], LongRow] = _member

    def show_items(self, items: Sequence[Any], made: Callable[[Any], LongRow]) -> None:
        """Show other items."""
        self.beginResetModel()
        self._items, self._made = items, made
        self.endResetModel()

    def row(self, at: int) -> LongRow:
        """The row at `at`."""
        return self._made(self._items[at])

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """How many items there are."""
        return 0 if parent.isValid() else len(self._items)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """One."""
        return 0 if parent.isValid() else 1

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """The row for the one who draws it; one sentence for who reads it aloud."""
        if not index.isValid() or not 0 <= index.row() < len(self._items):
            return None
        if role == ROW_ROLE:
            return self.row(index.row())
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.AccessibleTextRole):
            row = self.row(index.row())
            return f"{row.upper}. {row.lower}" if row.lower else row.upper
        if role == Qt.ItemDataRole.ToolTipRole:
            row = self.row(index.row())
            return text.tip(f"{row.upper}; {row.lower}")
        return None
