"""A long list inside a piece: rows of two lines, fixed in height, so that a hundred thousand members scroll at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QModelIndex, QPersistentModelIndex, QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetrics, QKeyEvent, QPainter, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QStyledItemDelegate, QTableView, QWidget

from ui.look import sized, tones_of, unit
from ui.models.long_rows import ROW_ROLE, LongRow, LongRows
from ui.widgets import marks

if TYPE_CHECKING:
    from PySide6.QtWidgets import QStyleOptionViewItem

Index = QModelIndex | QPersistentModelIndex
LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


class LongDelegate(QStyledItemDelegate):
    """Draws one row: the name above, what is said of it below."""

    def __init__(self, view: QTableView) -> None:
        super().__init__(view)
        self._view = view

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """Never asked for rows, which are fixed."""
        return QSize(60, long_height(self._view))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw the row."""
        row: LongRow = index.data(ROW_ROLE)
        tones = tones_of(self._view)
        step = unit(self._view)
        box: QRect = option.rect
        painter.save()
        if self._view.selectionModel().isSelected(index):
            painter.fillRect(box, QColor(tones.chosen))
            painter.fillRect(box.left(), box.top(), 5, box.height(), QColor(tones.accent))
        painter.setPen(QColor(tones.line))
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        inner = box.adjusted(step * 2, step // 2, -step, -step // 2)
        high = QFontMetrics(self._view.font()).height()
        if row.mark:
            side = high - 4
            marks.draw(painter, QRectF(inner.left(), inner.top() + 1, side, side), row.mark, tones)
            inner.setLeft(inner.left() + side + step)
        painter.setPen(QColor(tones.ink))
        painter.setFont(self._view.font())
        upper = QRect(inner.left(), inner.top(), inner.width(), high)
        cut = QFontMetrics(self._view.font()).elidedText(row.upper, Qt.TextElideMode.ElideMiddle, inner.width())
        painter.drawText(upper, LEFT, cut)
        small = sized(self._view.font(), 0.85)
        painter.setFont(small)
        painter.setPen(QColor(tones.soft))
        cut = QFontMetrics(small).elidedText(row.lower, Qt.TextElideMode.ElideRight, inner.width())
        painter.drawText(QRect(inner.left(), inner.top() + high, inner.width(), inner.height() - high), LEFT, cut)
        painter.restore()


def long_height(view: QWidget) -> int:
    """Two lines of text and a little room."""
    return QFontMetrics(view.font()).height() + QFontMetrics(sized(view.font(), 0.85)).height() + unit(view)


class LongList(QTableView):
    """The list; `opened` carries the member a person wants to see, `moved` the row they stand on."""

    opened = Signal(str)
    moved = Signal(int)

    def __init__(self, rows: LongRows, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.rows = rows
        self.setModel(rows)
        self.setItemDelegate(LongDelegate(self))
        self.setAccessibleName("A long list inside the piece")
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setFrameShape(QTableView.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.horizontalHeader().hide()
        self.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        self.verticalHeader().hide()
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.verticalHeader().setDefaultSectionSize(long_height(self))
        self.doubleClicked.connect(self._open)
        self.selectionModel().currentRowChanged.connect(lambda current, before: self.moved.emit(current.row()))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter opens the row's piece."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.currentIndex().isValid():
            self._open(self.currentIndex())
            return
        super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The row a person stands on stays in view, where words below it take more room."""
        seen = self.currentIndex().isValid() and self.visualRect(self.currentIndex()).intersects(
            QRect(0, 0, event.oldSize().width(), event.oldSize().height())
        )
        super().resizeEvent(event)
        if seen:
            self.scrollTo(self.currentIndex())

    def changeEvent(self, event: QEvent) -> None:
        """A new text size makes new rows."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.ApplicationFontChange) and hasattr(self, "rows"):
            self.verticalHeader().setDefaultSectionSize(long_height(self))

    def _open(self, index: Index) -> None:
        link = self.rows.row(index.row()).link
        if link:
            self.opened.emit(link)
