"""The Shelf's list: rows of two lines, fixed in height, so that a million of them scroll at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QModelIndex, QPersistentModelIndex, QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QStyledItemDelegate,
    QTableView,
    QWidget,
)

from ui.look import sized, tones_of, unit
from ui.models.piece_table import COLUMNS, ROW_ROLE, PieceTable, cell
from ui.widgets import marks

if TYPE_CHECKING:
    from PySide6.QtWidgets import QStyleOptionViewItem

    from catalogue.shapes.shelf import ShelfRow


Index = QModelIndex | QPersistentModelIndex
WIDEST = ("", "F234:0C80 and", "12.04.0-rc1", "1,023 KiB", "Corvane Bittern", "neighbour")
"""What each column after the first has to hold on its upper line."""
DROPPED = (4, 2, 1)
"""Columns that give way, in this order, where there is no room for the first; the piece itself says it all."""


class PieceDelegate(QStyledItemDelegate):
    """Draws one cell: the main thing above, what belongs to it below."""

    def __init__(self, view: QTableView) -> None:
        super().__init__(view)
        self._view = view

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """Never asked for rows, which are fixed."""
        return QSize(60, row_height(self._view))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw the cell."""
        tones = tones_of(self._view)
        box: QRect = option.rect
        chosen = self._view.selectionModel().isSelected(index)
        column = index.column()
        painter.save()
        if chosen:
            painter.fillRect(box, QColor(tones.chosen))
            if column == 0:
                painter.fillRect(box.left(), box.top(), 5, box.height(), QColor(tones.accent))
            if self._view.hasFocus():
                for top in (box.top(), box.bottom() - 2):
                    painter.fillRect(box.left(), top, box.width(), 2, QColor(tones.accent))
        painter.setPen(QColor(tones.line))
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        row = index.data(ROW_ROLE)
        if row is not None:
            self._cell(painter, box, row, column)
        painter.restore()

    def _cell(self, painter: QPainter, box: QRect, row: ShelfRow, column: int) -> None:
        tones = tones_of(self._view)
        step = unit(self._view)
        upper, lower = cell(row, column)
        font = self._view.font()
        small = sized(self._view.font(), 0.85)
        inner = box.adjusted(step + (4 if column == 0 else 0), 2, -step // 2, -2)
        half = inner.height() // 2
        if column == 5:
            side = min(step * 2, half)
            marks.draw(painter, QRectF(inner.left(), inner.top() + (half - side) / 2 + 1, side, side), upper, tones)
            above = QRect(inner.left() + side + step // 2, inner.top(), inner.width() - side - step // 2, half)
        else:
            above = QRect(inner.left(), inner.top(), inner.width(), half)
        painter.setFont(font)
        empty = column in (1, 2, 4) and upper in ("no card", "not read", "no family", "has no IDs")
        painter.setPen(QColor(tones.soft if empty else tones.ink))
        align = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        metrics = QFontMetrics(font)
        painter.drawText(above, align, metrics.elidedText(upper, Qt.TextElideMode.ElideRight, above.width()))
        if lower:
            below = QRect(inner.left(), inner.top() + half, inner.width(), half)
            if column == 0 and row.new:
                below = self._new(painter, below)
            if column == 0 and isinstance(self._view, PieceList) and (age := self._view.table.age_of(row.sha256)):
                below = self._old(painter, below, age)
            painter.setFont(small)
            painter.setPen(QColor(tones.soft))
            cut = Qt.TextElideMode.ElideMiddle if column == 0 else Qt.TextElideMode.ElideRight
            painter.drawText(below, align, QFontMetrics(small).elidedText(lower, cut, below.width()))

    def _new(self, painter: QPainter, box: QRect) -> QRect:
        """The word "new" on a small flag; what is left of the box."""
        tones = tones_of(self._view)
        small = sized(self._view.font(), 0.8, bold=True)
        metrics = QFontMetrics(small)
        wide = metrics.horizontalAdvance("new") + 8
        flag = QRect(box.left(), box.center().y() - metrics.height() // 2, wide, metrics.height())
        painter.fillRect(flag, QColor(tones.accent))
        painter.setFont(small)
        painter.setPen(QColor(tones.on_accent))
        painter.drawText(flag, Qt.AlignmentFlag.AlignCenter, "new")
        return box.adjusted(wide + 6, 0, 0, 0)


    def _old(self, painter: QPainter, box: QRect, age: str) -> QRect:
        """The shape and the word of an age that stands out; what is left of the box."""
        tones = tones_of(self._view)
        small = sized(self._view.font(), 0.8, bold=True)
        metrics = QFontMetrics(small)
        side = metrics.height()
        marks.draw(painter, QRectF(box.left(), box.center().y() - side / 2, side, side), age, tones)
        wide = metrics.horizontalAdvance(age)
        words = QRect(box.left() + side + 3, box.top(), wide, box.height())
        painter.setFont(small)
        painter.setPen(QColor(tones.ink))
        painter.drawText(words, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, age)
        return box.adjusted(side + 3 + wide + 8, 0, 0, 0)


def row_height(view: QWidget) -> int:
    """Two lines of text and a little room."""
    return QFontMetrics(view.font()).height() + QFontMetrics(sized(view.font(), 0.85)).height() + unit(view) * 3 // 2


class Head(QHeaderView):
    """The columns' names on a band."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(Qt.Orientation.Horizontal, parent)
        self.setHighlightSections(False)
        self.setSectionsClickable(False)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)

    def sizeHint(self) -> QSize:
        """One line of small text and room."""
        return QSize(60, QFontMetrics(self.font()).height() + unit(self))

    def paintSection(self, painter: QPainter, rect: QRect, section: int) -> None:
        """Draw one name where the cells below it begin."""
        tones = tones_of(self)
        painter.fillRect(rect, QColor(tones.band))
        painter.setPen(QColor(tones.line))
        painter.drawLine(rect.bottomLeft(), rect.bottomRight())
        painter.setPen(QColor(tones.soft))
        painter.setFont(self.font())
        inner = rect.adjusted(unit(self) + (4 if section == 0 else 0), 0, -2, 0)
        words = painter.fontMetrics().elidedText(COLUMNS[section], Qt.TextElideMode.ElideRight, inner.width())
        painter.drawText(inner, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, words)


class PieceList(QTableView):
    """The list of pieces; `picked` carries the SHA-256 of the row a person stands on."""

    picked = Signal(str)

    def __init__(self, table: PieceTable, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.table = table
        self.setModel(table)
        self.setItemDelegate(PieceDelegate(self))
        self.setAccessibleName("Pieces on the shelf")
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setFrameShape(QTableView.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalHeader(Head(self))
        side = self.verticalHeader()
        side.hide()
        side.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self._fit()
        self.selectionModel().currentRowChanged.connect(self._moved)
        table.dataChanged.connect(self._arrived)
        self._waiting_for_row = -1

    def _fit(self) -> None:
        self.verticalHeader().setDefaultSectionSize(row_height(self))
        self.horizontalHeader().setFont(sized(self.font(), 0.85))
        step = unit(self)
        wide = [self.fontMetrics().horizontalAdvance(text) + step * 2 for text in WIDEST]
        wide[-1] += step * 2
        whole = self.viewport().width()
        least = step * 28
        shown = list(range(1, len(COLUMNS)))
        for column in DROPPED:
            if whole - sum(wide[one] for one in shown) < least:
                shown.remove(column)
        spare = max(0, whole - sum(wide[one] for one in shown) - step * 40) // (len(shown) + 1)
        for column in range(1, len(COLUMNS)):
            self.setColumnHidden(column, column not in shown)
            if column in shown:
                self.setColumnWidth(column, wide[column] + spare)
        self.setColumnWidth(0, max(least // 2, whole - sum(wide[one] + spare for one in shown)))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the new room among the columns."""
        super().resizeEvent(event)
        self._fit()

    def changeEvent(self, event: QEvent) -> None:
        """A new text size makes new rows."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.ApplicationFontChange) and hasattr(self, "table"):
            self._fit()

    def _moved(self, current: QModelIndex, before: QModelIndex) -> None:
        if not current.isValid():
            return
        row = self.table.row(current.row())
        self._waiting_for_row = current.row() if row is None else -1
        if row is not None:
            self.picked.emit(row.sha256)

    def _arrived(self, first: QModelIndex, last: QModelIndex) -> None:
        if first.row() <= self._waiting_for_row <= last.row():
            row = self.table.row(self._waiting_for_row)
            self._waiting_for_row = -1
            if row is not None:
                self.picked.emit(row.sha256)
