"""Draws a short list: title, a line below it, a shape before it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QModelIndex, QPersistentModelIndex, QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetrics, QPainter
from PySide6.QtWidgets import QAbstractItemView, QListView, QStyledItemDelegate, QWidget

from ui.look import sized, tones_of, unit
from ui.models.said_rows import ROW_ROLE, SaidRow, SaidRows
from ui.widgets import marks
from ui.widgets.basics import focus_frame

if TYPE_CHECKING:
    from PySide6.QtWidgets import QStyleOptionViewItem

Index = QModelIndex | QPersistentModelIndex


class SaidDelegate(QStyledItemDelegate):
    """Draws one row of two lines."""

    def __init__(self, view: QListView) -> None:
        super().__init__(view)
        self._view = view

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """Two lines and room for a glove."""
        return QSize(60, QFontMetrics(self._view.font()).height() * 2 + unit(self._view) * 2)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw the row."""
        tones = tones_of(self._view)
        row: SaidRow = index.data(ROW_ROLE)
        box: QRect = option.rect
        step = unit(self._view)
        painter.save()
        if index == self._view.currentIndex():
            painter.fillRect(box, QColor(tones.chosen))
            painter.fillRect(box.left(), box.top(), 5, box.height(), QColor(tones.accent))
            if self._view.hasFocus():
                focus_frame(painter, box.adjusted(0, 0, 0, -1), tones.accent)
        painter.setPen(QColor(tones.line))
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        inner = box.adjusted(step + 6, 3, -step, -3)
        if row.mark:
            side = step * 2
            at = QRectF(inner.left(), inner.center().y() - side / 2, side, side)
            marks.draw(painter, at, row.mark, tones)
            inner.setLeft(inner.left() + side + step)
        half = inner.height() // 2
        align = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        bold, small = sized(self._view.font(), 1.0, bold=True), sized(self._view.font(), 0.85)
        painter.setFont(bold)
        painter.setPen(QColor(tones.ink))
        above = QRect(inner.left(), inner.top(), inner.width(), half if row.below else inner.height())
        painter.drawText(
            above, align, QFontMetrics(bold).elidedText(row.title, Qt.TextElideMode.ElideRight, above.width())
        )
        if row.below:
            painter.setFont(small)
            painter.setPen(QColor(tones.soft))
            below = QRect(inner.left(), inner.top() + half, inner.width(), half)
            painter.drawText(
                below, align, QFontMetrics(small).elidedText(row.below, Qt.TextElideMode.ElideRight, below.width())
            )
        painter.restore()


class SaidList(QListView):
    """A short list; `picked` carries the key of the row a person chose."""

    picked = Signal(str)

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.rows = SaidRows(self)
        self.setModel(self.rows)
        self.setItemDelegate(SaidDelegate(self))
        self.setAccessibleName(name)
        self.setTabKeyNavigation(False)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setFrameShape(QListView.Shape.NoFrame)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.selectionModel().currentChanged.connect(self._moved)
        self._quiet = False

    @property
    def key(self) -> str:
        """The key of the row a person stands on, "" for none."""
        row = self.currentIndex().data(ROW_ROLE)
        return row.key if isinstance(row, SaidRow) else ""

    def show_rows(self, rows: list[SaidRow]) -> None:
        """Show other rows, staying on the same one where it is still there."""
        if rows == self.rows.rows:
            return
        key = self.key
        self._quiet = True
        self.rows.show_rows(rows)
        self._quiet = False
        self.stand_on(key, quietly=True)

    def stand_on(self, key: str, *, quietly: bool = False) -> None:
        """Stand on the row with that key."""
        at = self.rows.place_of(key)
        if at >= 0:
            self._quiet = quietly
            self.setCurrentIndex(self.rows.index(at))
            self._quiet = False

    def changeEvent(self, event: QEvent) -> None:
        """A new text size makes new heights."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.ApplicationFontChange):
            self.scheduleDelayedItemsLayout()

    def _moved(self, current: QModelIndex, before: QModelIndex) -> None:
        if current.isValid() and not self._quiet:
            self.picked.emit(current.data(ROW_ROLE).key)
