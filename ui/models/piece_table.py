"""The Shelf's list for Qt: ids held as machine integers, rows fetched a page at a time when they come into view."""

from __future__ import annotations

from array import array
from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, QPersistentModelIndex, Qt, Signal

from ui import text
from ui.models.lines import RUNG_SHORT

if TYPE_CHECKING:
    from catalogue.shapes.shelf import ShelfRow


Index = QModelIndex | QPersistentModelIndex
ROW_ROLE = Qt.ItemDataRole.UserRole + 1
PAGE = 128
MOST_PAGES = 64
COLUMNS = ("What it is, where it lies", "For which card", "Version, from", "Size", "Fits by its IDs", "Vouched for")


class PieceTable(QAbstractTableModel):
    """`wanted(page)` asks for a page of rows; `take_page` brings it. Rows not here yet are empty."""

    wanted = Signal(int)

    def __init__(self, parent: QObject | None = None, age_of: Callable[[str], str] = lambda sha256: "") -> None:
        super().__init__(parent)
        self.age_of = age_of
        self._ids: array[int] = array("q")
        self._pages: dict[int, list[ShelfRow]] = {}
        self._asked: set[int] = set()
        self.round = 0

    def show_ids(self, ids: array[int]) -> None:
        """Show other pieces. Pages asked for before are no longer taken (`round` counts the showings)."""
        self.beginResetModel()
        self._ids = ids
        self._pages.clear()
        self._asked.clear()
        self.round += 1
        self.endResetModel()

    def extend_ids(self, ids: array[int]) -> None:
        """Show further pieces behind whole pages that are shown; where `ids` do not go on from those, other ones."""
        have = len(self._ids)
        if have % PAGE or ids[:have] != self._ids:
            self.show_ids(ids)
        elif len(ids) > have:
            self.beginInsertRows(QModelIndex(), have, len(ids) - 1)
            self._ids = ids
            self.endInsertRows()

    def page_ids(self, page: int) -> array[int]:
        """The ids of a page."""
        return self._ids[page * PAGE : (page + 1) * PAGE]

    def take_page(self, number: int, page: int, rows: list[ShelfRow]) -> None:
        """Take the rows of a page asked for in showing `number`."""
        if number != self.round:
            return
        while len(self._pages) >= MOST_PAGES:
            gone = next(iter(self._pages))
            del self._pages[gone]
            self._asked.discard(gone)
        self._pages[page] = rows
        last = min(len(self._ids), (page + 1) * PAGE) - 1
        self.dataChanged.emit(self.index(page * PAGE, 0), self.index(last, len(COLUMNS) - 1))

    def lose_page(self, number: int, page: int) -> None:
        """A page could not be had: it may be asked for again."""
        if number == self.round:
            self._asked.discard(page)

    def row(self, at: int) -> ShelfRow | None:
        """The row at `at`, asking for its page if it is not here."""
        page, inside = divmod(at, PAGE)
        rows = self._pages.get(page)
        if rows is None:
            if page not in self._asked:
                self._asked.add(page)
                self.wanted.emit(page)
            return None
        return rows[inside] if inside < len(rows) else None

    def place_of(self, sha256: str) -> int:
        """The position of a piece among the rows that are here, -1 if it is not."""
        for page, rows in self._pages.items():
            for inside, row in enumerate(rows):
                if row.sha256 == sha256:
                    return page * PAGE + inside
        return -1

    def ages_changed(self) -> None:
        """Say that the ages of rows that are here may be others now."""
        for page, rows in self._pages.items():
            first = self.index(page * PAGE, 0)
            self.dataChanged.emit(first, self.index(page * PAGE + len(rows) - 1, 0))

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """How many pieces are listed."""
        return 0 if parent.isValid() else len(self._ids)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """How many columns there are."""
        return 0 if parent.isValid() else len(COLUMNS)

    def headerData(self, section: int, side: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """The columns' names."""
        if side == Qt.Orientation.Horizontal and role == Qt.ItemDataRole.DisplayRole and 0 <= section < len(COLUMNS):
            return COLUMNS[section]
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Two lines a cell; as one text for who reads them aloud."""
        if not index.isValid() or not 0 <= index.row() < len(self._ids):
            return None
        row = self.row(index.row())
        if role == ROW_ROLE:
            return row
        if row is None:
            return None
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.AccessibleTextRole):
            upper, lower = cell(row, index.column())
            age = self.age_of(row.sha256) if index.column() == 0 else ""
            return ". ".join(one for one in (age, upper, lower) if one)
        if role == Qt.ItemDataRole.ToolTipRole:
            upper, lower = (row.title, row.place) if index.column() == 0 else cell(row, index.column())
            return text.tip(f"{upper}; {lower}" if lower else upper)
        return None


def cell(row: ShelfRow, column: int) -> tuple[str, str]:
    """The upper and lower line of one cell."""
    if column == 0:
        return text.plain(row.title) or row.kind, text.short_place(row.place)
    if column == 1:
        upper, _, lower = text.plain(row.card).partition(" ")
        return (upper, lower) if row.card else ("no card", "")
    if column == 2:
        return (text.plain(row.version), text.plain(row.version_source)) if row.version else ("not read", "")
    if column == 3:
        return text.size(row.size), ""
    if column == 4:
        names = [text.plain(one) for one in row.families]
        if names:
            return names[0], ", ".join(names[1:])
        return "no family" if row.card else "has no IDs", ""
    return row.vouch, RUNG_SHORT.get(row.vouch, "")
