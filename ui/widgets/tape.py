"""The ruled strip: a line's bytes as cells over a ruler whose ticks count offsets. Geometry here, once, for
drawing and for finding the byte under the pointer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter, QPen

from ui.look import Tones, fixed_font, sized
from ui.models.lines import Line

BESIDE = 2
"""Bytes shown before and after a short field, so that it is seen in its place."""


@dataclass(frozen=True, slots=True)
class Tape:
    """Where each cell of one line's strip lies. Offsets are absolute in the piece."""

    box: QRect
    first: int
    count: int
    cell: int
    own_first: int
    own_end: int
    own_shown_to: int

    def cell_box(self, at: int) -> QRect:
        """The box of byte `at`."""
        return QRect(self.box.left() + (at - self.first) * self.cell, self.box.top(), self.cell, cell_height(self))

    def byte_under(self, x: int, y: int) -> int:
        """The byte under a point, -1 for none."""
        if not self.box.contains(x, y):
            return -1
        at = self.first + (x - self.box.left()) // self.cell
        return at if self.first <= at < self.first + self.count else -1


def cell_height(tape: Tape) -> int:
    """The height of the cells; the ruler lies under them."""
    return round(tape.box.height() * 0.6)


def height(font: QFont) -> int:
    """The height of a strip with its ruler."""
    return QFontMetrics(fixed_font(font)).height() + QFontMetrics(sized(font, 0.72)).height() + 12


def lay(box: QRect, line: Line, size: int, chosen: int, font: QFont) -> Tape:
    """Lay a line's bytes into `box`: a short field with its neighbours, a long one from where a person stands."""
    cell = QFontMetrics(fixed_font(font)).horizontalAdvance("00") + 8
    room = max(4, (box.width() - cell // 2) // cell)
    assert line.offset is not None
    start, end = line.offset, min(line.offset + line.length, size)
    if end - start + 2 * BESIDE <= room:
        first = max(0, start - BESIDE)
        stop = min(size, end + BESIDE)
    elif end - start <= room:
        first, stop = start, end
    else:
        first = start
        if start <= chosen < end:
            first = max(start, min(chosen - room // 2, end - room))
        stop = first + room
    return Tape(box, first, stop - first, cell, start, end, min(stop, end))


def paint(
    painter: QPainter, tape: Tape, peek: Callable[[int], int | None], *, chosen: int, tones: Tones, font: QFont
) -> None:
    """Draw cells, ruler and the chosen byte."""
    mono = fixed_font(font)
    small = sized(font, 0.72)
    bottom = tape.box.top() + cell_height(tape)
    for at in range(tape.first, tape.first + tape.count):
        box = tape.cell_box(at)
        own = tape.own_first <= at < tape.own_end
        if own:
            painter.fillRect(box, QColor(tones.band))
        value = peek(at)
        painter.setFont(mono)
        painter.setPen(QColor(tones.ink if own else tones.soft))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, "··" if value is None else f"{value:02X}")
    _ruler(painter, tape, bottom, tones, small)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    own_left = tape.cell_box(max(tape.own_first, tape.first)).left()
    own_right = tape.cell_box(tape.own_shown_to - 1).right() + 1
    painter.setPen(QPen(QColor(tones.accent), 1.6))
    painter.drawLine(own_left, bottom, own_right, bottom)
    painter.drawLine(own_left, tape.box.top() + 2, own_left, bottom)
    if tape.own_shown_to == tape.own_end:
        painter.drawLine(own_right, tape.box.top() + 2, own_right, bottom)
    if tape.first <= chosen < tape.first + tape.count:
        own = tape.own_first <= chosen < tape.own_end
        painter.setPen(QPen(QColor(tones.ink), 2.4) if own else QPen(QColor(tones.soft), 1, Qt.PenStyle.DotLine))
        painter.drawRect(QRectF(tape.cell_box(chosen)).adjusted(1, 1, -1, -1))


def _ruler(painter: QPainter, tape: Tape, top: int, tones: Tones, small: QFont) -> None:
    painter.setFont(small)
    metrics = QFontMetrics(small)
    free = tape.box.left()
    for at in range(tape.first, tape.first + tape.count + 1):
        x = tape.box.left() + (at - tape.first) * tape.cell
        marked = at % 4 == 0 or at == tape.first
        painter.setPen(QColor(tones.soft if marked else tones.line))
        painter.drawLine(QPointF(x, top), QPointF(x, top + (7 if marked else 4)))
        label = f"{at:X}h"
        if marked and x >= free and at < tape.first + tape.count:
            painter.drawText(x + 3, top + metrics.ascent() + 3, label)
            free = x + metrics.horizontalAdvance(label) + 8
