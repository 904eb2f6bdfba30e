"""The list of a piece's lines, each field with its bytes under it. Arrow keys left and right walk byte by byte."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QModelIndex, QPersistentModelIndex, QPoint, QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetrics, QKeyEvent, QMouseEvent, QPainter
from PySide6.QtWidgets import QAbstractItemView, QListView, QStyledItemDelegate, QWidget

from ui.look import Tones, sized, tones_of, unit
from ui.models.field_lines import LINE_ROLE, FieldLines
from ui.models.lines import Line
from ui.widgets import marks, tape
from ui.widgets.byte_store import ByteStore

if TYPE_CHECKING:
    from PySide6.QtWidgets import QStyleOptionViewItem

Index = QModelIndex | QPersistentModelIndex
ALIGN_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
WRAPPED = Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop
MOST_INDENT = 5
WHOLE_WIDTH = frozenset({"part", "member", "list"})
ONE_ROW = 36
"""Letters of a meaning that stand in one row however narrow the list is, so that they need not be measured."""
ALIGN_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


class LineDelegate(QStyledItemDelegate):
    """Draws one line: name, value and offset; its meaning; its bytes on a ruled strip."""

    def __init__(self, view: LineView, store: ByteStore) -> None:
        super().__init__(view)
        self._view = view
        self._store = store
        self._measured: tuple[int, int, int] | None = None

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """As tall as what stands in the line."""
        line = index.data(LINE_ROLE)
        row, step, strip = self._measures()
        if line.kind == "heading":
            return QSize(80, row + step * 2)
        if line.kind == "said":
            return QSize(80, sum(self._said_heights(line)) + step)
        tall = row + step + self._below(line)
        if line.has_bytes:
            tall += strip + step // 2
        return QSize(80, tall)

    def _measures(self) -> tuple[int, int, int]:
        """The height of a line of text, the step, the height of a strip: measured once a text size."""
        if self._measured is None:
            font = self._view.font()
            self._measured = QFontMetrics(font).height(), unit(self._view), tape.height(font)
        return self._measured

    def forget(self) -> None:
        """The text size has changed."""
        self._measured = None

    def _said_heights(self, line: Line) -> tuple[int, int]:
        """How tall a sentence and what belongs to it are, wrapped."""
        font = self._view.font()
        wide = self._view.viewport().width() - self._left(line) - QFontMetrics(font).height() - unit(self._view) * 3
        box = QRect(0, 0, max(80, wide), 1_000)
        tall = QFontMetrics(sized(font, 1.0, bold=True)).boundingRect(box, WRAPPED, line.name).height()
        below = QFontMetrics(sized(font, 0.85)).boundingRect(box, WRAPPED, line.meaning).height() if line.meaning else 0
        return tall, below

    def _below(self, line: Line) -> int:
        """How tall what belongs to a line is, under its name: one row of small text, or as many as it takes."""
        row, step, _ = self._measures()
        said = _said_below(line)
        if not said:
            return row if line.kind in WHOLE_WIDTH else 0
        if line.kind == "place" or len(said) <= ONE_ROW:
            return row
        small = QFontMetrics(sized(self._view.font(), 0.85))
        box = QRect(0, 0, self._wide_below(line), 4_000)
        return max(row, small.boundingRect(box, WRAPPED, said).height() + step // 2)

    def _wide_below(self, line: Line) -> int:
        """How wide what stands under a line's name may be."""
        row, step, _ = self._measures()
        wide = self._view.viewport().width() - self._left(line) - step
        if line.mark:
            wide -= row - 2 + step
        if line.kind in WHOLE_WIDTH:
            plate = self.action_box(QRect(0, 0, wide, row), line)
            wide -= plate.width() + step if line.action else 0
        elif line.where and self._where_below(line):
            wide -= self._taken(line)
        return max(80, wide)

    def _taken(self, line: Line) -> int:
        """How much of a line's width its place takes."""
        small = QFontMetrics(sized(self._view.font(), 0.85))
        return small.horizontalAdvance(line.where) + unit(self._view)

    def _where_below(self, line: Line) -> bool:
        """Whether name and value leave no room for the place beside them."""
        step = unit(self._view)
        font = self._view.font()
        bold = QFontMetrics(sized(font, 1.0, bold=True))
        asked = max(bold.horizontalAdvance(line.name) + step, step * 13)
        asked += QFontMetrics(font).horizontalAdvance(line.value) + self._taken(line)
        wide = self._view.viewport().width() - self._left(line) - step
        return bool(line.meaning) and asked + step > wide

    def action_box(self, box: QRect, line: Line) -> QRect:
        """Where a line's action can be pressed; empty where it has none."""
        if not line.action:
            return QRect()
        font = sized(self._view.font(), 0.85)
        step = unit(self._view)
        wide = QFontMetrics(font).horizontalAdvance(line.action) + step * 2
        tall = QFontMetrics(font).height() + step
        return QRect(box.right() - wide - step, box.top() + step // 2, wide, tall)

    def strip_box(self, box: QRect, line: Line) -> QRect:
        """Where a line's strip lies inside its box."""
        tall = tape.height(self._view.font())
        left = box.left() + self._left(line)
        return QRect(left, box.bottom() - tall - unit(self._view) // 2, box.right() - left - unit(self._view), tall)

    def tape_of(self, box: QRect, line: Line) -> tape.Tape:
        """A line's strip, laid out."""
        return tape.lay(
            self.strip_box(box, line), line, self._view.piece_size, self._view.lines.chosen, self._view.font()
        )

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw the line."""
        line: Line = index.data(LINE_ROLE)
        tones = tones_of(self._view)
        box: QRect = option.rect
        painter.save()
        if line.kind == "heading":
            self._heading(painter, box, line, tones)
        elif line.kind == "said":
            self._said(painter, box, line, tones)
        else:
            if self._view.selectionModel().isSelected(index):
                painter.fillRect(box, QColor(tones.chosen))
                painter.fillRect(box.left(), box.top(), 5, box.height(), QColor(tones.accent))
            self._line(painter, box, line, tones)
        painter.restore()

    def _left(self, line: Line) -> int:
        return unit(self._view) * (2 + min(line.depth, MOST_INDENT))

    def _said(self, painter: QPainter, box: QRect, line: Line, tones: Tones) -> None:
        """A sentence with its shape, wrapped, and what belongs to it below."""
        step = unit(self._view)
        font = self._view.font()
        side = QFontMetrics(font).height() - 2
        left = box.left() + self._left(line)
        if line.mark:
            marks.draw(painter, QRectF(left, box.top() + step // 2 + 1, side, side), line.mark, tones)
        tall, below = self._said_heights(line)
        left += side + step
        wide = max(80, box.right() - step - left)
        painter.setFont(sized(font, 1.0, bold=True))
        painter.setPen(QColor(tones.ink))
        painter.drawText(QRect(left, box.top() + step // 2, wide, tall), WRAPPED, line.name)
        painter.setFont(sized(font, 0.85))
        painter.setPen(QColor(tones.soft))
        painter.drawText(QRect(left, box.top() + step // 2 + tall, wide, below), WRAPPED, line.meaning)

    def _action(self, painter: QPainter, box: QRect, line: Line, tones: Tones) -> int:
        """The plate that can be pressed; how much of the line's width it takes."""
        plate = self.action_box(box, line)
        if plate.isEmpty():
            return 0
        painter.setBrush(QColor(tones.sheet))
        painter.setPen(QColor(tones.accent))
        painter.drawRoundedRect(QRectF(plate).adjusted(0.5, 0.5, -0.5, -0.5), 4, 4)
        painter.setFont(sized(self._view.font(), 0.85))
        painter.setPen(QColor(tones.ink))
        painter.drawText(plate, Qt.AlignmentFlag.AlignCenter, line.action)
        return plate.width() + unit(self._view)

    def _heading(self, painter: QPainter, box: QRect, line: Line, tones: Tones) -> None:
        step = unit(self._view)
        inner = box.adjusted(step * (1 + min(line.depth, MOST_INDENT)), step // 2, -step, 0)
        painter.setPen(QColor(tones.line))
        painter.drawLine(inner.left(), box.bottom() - 1, box.right() - step, box.bottom() - 1)
        small = sized(self._view.font(), 0.9)
        painter.setFont(small)
        painter.setPen(QColor(tones.soft))
        taken = min(QFontMetrics(small).horizontalAdvance(line.value) + step, inner.width() * 3 // 5)
        _words(painter, inner, line.value, ALIGN_RIGHT)
        painter.setFont(sized(self._view.font(), 1.05, bold=True))
        painter.setPen(QColor(tones.ink))
        _words(painter, inner.adjusted(0, 0, -taken, 0), line.name, ALIGN_LEFT)

    def _line(self, painter: QPainter, box: QRect, line: Line, tones: Tones) -> None:
        step = unit(self._view)
        font = self._view.font()
        row = QFontMetrics(font).height()
        inner = QRect(box.left() + self._left(line), box.top() + step // 2, 0, row)
        taken_right = self._action(painter, box, line, tones)
        inner.setRight(box.right() - step - taken_right)
        if line.mark:
            side = row - 2
            marks.draw(painter, QRectF(inner.left(), inner.top() + 1, side, side), line.mark, tones)
            inner.setLeft(inner.left() + side + step)
        text_left = inner.left()
        small = sized(font, 0.85)
        bold = sized(font, 1.0, bold=True)
        if line.kind in WHOLE_WIDTH:
            self._whole_width(painter, inner, line, tones)
            return
        taken = 0
        if line.where:
            painter.setFont(small)
            painter.setPen(QColor(tones.soft))
            below = self._where_below(line)
            right = QRect(inner.left(), inner.top() + (row if below else 0), inner.width(), row)
            taken = min(self._taken(line), inner.width() // 2)
            _words(painter, right.adjusted(right.width() - taken, 0, 0, 0), line.where, ALIGN_RIGHT)
            if not below:
                inner.setRight(inner.right() - taken)
        painter.setFont(bold)
        painter.setPen(QColor(tones.ink))
        wide = max(QFontMetrics(bold).horizontalAdvance(line.name) + step, step * 13)
        wide = min(wide, inner.width() * 2 // 3) if line.value else inner.width()
        _words(painter, QRect(inner.left(), inner.top(), wide - step // 2, row), line.name, ALIGN_LEFT, _cut(line))
        painter.setFont(font)
        value = QRect(inner.left() + wide, inner.top(), inner.width() - wide, row)
        _words(painter, value, line.value, ALIGN_LEFT, Qt.TextElideMode.ElideMiddle)
        if line.meaning:
            painter.setFont(small)
            painter.setPen(QColor(tones.soft))
            under = QRect(text_left, inner.top() + row, self._wide_below(line), self._below(line))
            if line.kind == "place":
                _words(painter, under, line.meaning, ALIGN_LEFT, _cut(line))
            else:
                painter.drawText(under, WRAPPED, line.meaning)
        if line.has_bytes:
            laid = self.tape_of(box, line)
            tape.paint(painter, laid, self._store.peek, chosen=self._view.lines.chosen, tones=tones, font=font)

    def _whole_width(self, painter: QPainter, inner: QRect, line: Line, tones: Tones) -> None:
        """A part, a member or a list: its name over the whole width, what belongs to it below."""
        font = self._view.font()
        painter.setFont(sized(font, 1.0, bold=line.kind != "member"))
        painter.setPen(QColor(tones.ink))
        _words(painter, inner, line.name, ALIGN_LEFT, Qt.TextElideMode.ElideMiddle)
        painter.setFont(sized(font, 0.85))
        painter.setPen(QColor(tones.soft))
        under = QRect(inner.left(), inner.bottom() + 1, self._wide_below(line), self._below(line))
        painter.drawText(under, WRAPPED, _said_below(line))


def _said_below(line: Line) -> str:
    """What stands under a line's name."""
    if line.kind in WHOLE_WIDTH:
        return ", ".join(part for part in (line.where, line.meaning) if part)
    return line.meaning


def _cut(line: Line) -> Qt.TextElideMode:
    """Of a place, beginning and end are what tells it apart."""
    return Qt.TextElideMode.ElideMiddle if line.kind == "place" else Qt.TextElideMode.ElideRight


def _words(
    painter: QPainter,
    box: QRect,
    text: str,
    align: Qt.AlignmentFlag,
    cut: Qt.TextElideMode = Qt.TextElideMode.ElideRight,
) -> None:
    if box.width() > 0:
        painter.drawText(box, align, painter.fontMetrics().elidedText(text, cut, box.width()))


class LineView(QListView):
    """A piece's lines. Its model is a FieldLines."""

    moved = Signal(int)
    entered = Signal(tuple)
    opened = Signal(str)
    listed = Signal(str, tuple)

    def __init__(self, lines: FieldLines, store: ByteStore, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.lines = lines
        self.piece_size = 0
        self.bounds = (0, 0)
        self._delegate = LineDelegate(self, store)
        self.setModel(lines)
        self.setItemDelegate(self._delegate)
        self.setAccessibleName("What was read from the piece")
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setTabKeyNavigation(False)
        self.setFrameShape(QListView.Shape.NoFrame)
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.verticalScrollBar().setSingleStep(unit(self) * 2)
        store.arrived.connect(self.viewport().update)
        self.selectionModel().currentChanged.connect(self._current_changed)
        self._leading = False

    def go_to(self, at: int) -> int:
        """Choose byte `at` and bring its line into view; the line's row, or -1."""
        row = self.lines.choose(at, self.currentIndex().row())
        if row >= 0:
            self._leading = True
            self.setCurrentIndex(self.lines.index(row))
            self._leading = False
            self.scrollTo(self.lines.index(row), QAbstractItemView.ScrollHint.EnsureVisible)
            self.viewport().update()
            self.moved.emit(row)
        return row

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Left and right walk the bytes, Enter does what the line offers; the rest is the list's own."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._act(self.currentIndex())
            return
        step = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}.get(Qt.Key(event.key()))
        if step is None or event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            super().keyPressEvent(event)
            return
        first, end = self.bounds
        at = self.lines.chosen + step if self.lines.chosen >= 0 else first
        if first <= at < end:
            self.go_to(at)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """A press on a byte chooses it."""
        point = event.position().toPoint()
        index = self.indexAt(point)
        if index.isValid() and event.button() == Qt.MouseButton.LeftButton:
            if self.action_box(index.row()).contains(point):
                self.setCurrentIndex(index)
                self._act(index)
                return
            at = self.byte_under(index, point)
            if at >= 0:
                self.setCurrentIndex(index)
                self.go_to(at)
                return
        super().mousePressEvent(event)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """A double press on a line does what it offers."""
        index = self.indexAt(event.position().toPoint())
        if index.isValid() and index.data(LINE_ROLE).action:
            self._act(index)
            return
        super().mouseDoubleClickEvent(event)

    def action_box(self, row: int) -> QRect:
        """Where a line's action can be pressed, in the viewport."""
        index = self.lines.index(row)
        return self._delegate.action_box(self.visualRect(index), index.data(LINE_ROLE))

    def _act(self, index: Index) -> None:
        line: Line | None = index.data(LINE_ROLE) if index.isValid() else None
        if line is None:
            return
        if line.way is not None:
            self.entered.emit(line.way)
        elif line.long:
            self.listed.emit(line.long, line.of)
        elif line.link:
            self.opened.emit(line.link)

    def byte_under(self, index: Index, point: QPoint) -> int:
        """The byte of `index`'s strip under a point of the viewport, -1 for none."""
        line: Line = index.data(LINE_ROLE)
        if not line.has_bytes:
            return -1
        return self._delegate.tape_of(self.visualRect(index), line).byte_under(point.x(), point.y())

    def byte_point(self, row: int, at: int) -> QPoint:
        """The middle of byte `at` in the strip of `row`, in the viewport."""
        index = self.lines.index(row)
        laid = self._delegate.tape_of(self.visualRect(index), index.data(LINE_ROLE))
        return laid.cell_box(at).center()

    def changeEvent(self, event: QEvent) -> None:
        """A new text size makes new heights."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.ApplicationFontChange):
            self._delegate.forget()
            self.scheduleDelayedItemsLayout()

    def _current_changed(self, current: QModelIndex, before: QModelIndex) -> None:
        if self._leading or not current.isValid():
            return
        line: Line = current.data(LINE_ROLE)
        if line.offset is not None and line.length > 0:
            self.lines.choose(line.offset, current.row())
            self.viewport().update()
        self.moved.emit(current.row())
