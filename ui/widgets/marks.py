"""Shapes that stand beside words: each state has its own outline, so that nothing rests on colour."""

from __future__ import annotations

import math
from collections.abc import Callable

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from ui.look import Tones, tones_of, unit

Shape = Callable[[QPainter, QRectF, QColor, QColor], None]

RUNGS = {"none": 0, "neighbour": 1, "agreed": 2, "ran": 3, "named": 4, "signed": 5}
"""How far up the ladder each rung stands (judging: signed is best)."""


def colour_of(mark: str, tones: Tones) -> str:
    """The colour a mark is drawn in; its meaning never rests on it."""
    if mark in {"stop", "no", "withdrawn"}:
        return tones.stop
    if mark in {"caution", "stale"}:
        return tones.caution
    if mark in {"good", "yes", "current"}:
        return tones.good
    if mark == "note":
        return tones.note
    return tones.soft if mark in {"silent", "unknown", "none", "left"} else tones.accent


def draw(painter: QPainter, box: QRectF, mark: str, tones: Tones) -> None:
    """Draw `mark` into `box`: a level, an answer of fit, an age, or a rung of the ladder."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    side = min(box.width(), box.height())
    area = QRectF(0, 0, side, side)
    area.moveCenter(box.center())
    colour = QColor(colour_of(mark, tones))
    pen = QPen(colour, max(1.6, side / 9))
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    painter.setPen(pen)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if mark in RUNGS:
        _ladder(painter, area, RUNGS[mark], colour, QColor(tones.line))
    else:
        _SHAPES.get(mark, _dots)(painter, area, colour, QColor(tones.sheet))
    painter.restore()


def _gate(painter: QPainter, area: QRectF, colour: QColor, inner: QColor) -> None:
    box = area.adjusted(1, 1, -1, -1)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(colour)
    painter.drawRoundedRect(box, box.width() / 6, box.width() / 6)
    painter.setBrush(inner)
    painter.drawRect(QRectF(box.left() + box.width() * 0.18, box.center().y() - box.height() * 0.1,
                            box.width() * 0.64, box.height() * 0.2))  # fmt: skip


def _wedge(painter: QPainter, area: QRectF, colour: QColor, inner: QColor) -> None:
    box = area.adjusted(1.5, 1.5, -1.5, -1.5)
    painter.drawPolygon(QPolygonF([QPointF(box.center().x(), box.top()), box.bottomRight(), box.bottomLeft()]))
    middle = box.center().x()
    painter.drawLine(QPointF(middle, box.top() + box.height() * 0.42), QPointF(middle, box.top() + box.height() * 0.64))
    painter.drawPoint(QPointF(middle, box.top() + box.height() * 0.84))


def _leaf(painter: QPainter, area: QRectF, colour: QColor, inner: QColor) -> None:
    box = area.adjusted(2.5, 1.5, -2.5, -1.5)
    painter.drawRect(box)
    for part in (0.32, 0.55, 0.78):
        height = box.top() + box.height() * part
        painter.drawLine(
            QPointF(box.left() + box.width() * 0.25, height), QPointF(box.right() - box.width() * 0.25, height)
        )


def _tick(painter: QPainter, area: QRectF, colour: QColor, inner: QColor) -> None:
    at = area.topLeft()
    side = area.width()
    path = QPainterPath(at + QPointF(side * 0.14, side * 0.55))
    path.lineTo(at + QPointF(side * 0.4, side * 0.82))
    path.lineTo(at + QPointF(side * 0.88, side * 0.2))
    painter.drawPath(path)


def _cross(painter: QPainter, area: QRectF, colour: QColor, inner: QColor) -> None:
    box = area.adjusted(area.width() * 0.2, area.width() * 0.2, -area.width() * 0.2, -area.width() * 0.2)
    painter.drawLine(box.topLeft(), box.bottomRight())
    painter.drawLine(box.topRight(), box.bottomLeft())


def _dots(painter: QPainter, area: QRectF, colour: QColor, inner: QColor) -> None:
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(colour)
    for part in (0.22, 0.5, 0.78):
        painter.drawEllipse(
            QPointF(area.left() + area.width() * part, area.center().y()), area.width() / 11, area.width() / 11
        )


def _dial(share: float, struck: bool) -> Shape:
    def paint(painter: QPainter, area: QRectF, colour: QColor, inner: QColor) -> None:
        box = area.adjusted(2, 2, -2, -2)
        painter.drawEllipse(box)
        centre = box.center()
        radius = box.width() / 2
        if struck:
            painter.drawLine(box.topLeft() + QPointF(radius * 0.3, radius * 0.3),
                             box.bottomRight() - QPointF(radius * 0.3, radius * 0.3))  # fmt: skip
            return
        angle = math.radians(90 - 360 * share)
        painter.drawLine(centre, centre + QPointF(0, -radius * 0.72))
        painter.drawLine(centre, centre + QPointF(math.cos(angle) * radius * 0.6, -math.sin(angle) * radius * 0.6))

    return paint


def _open_ring(painter: QPainter, area: QRectF, colour: QColor, inner: QColor) -> None:
    pen = painter.pen()
    pen.setStyle(Qt.PenStyle.DotLine)
    painter.setPen(pen)
    painter.drawEllipse(area.adjusted(2, 2, -2, -2))


def _ladder(painter: QPainter, area: QRectF, reached: int, colour: QColor, faint: QColor) -> None:
    left, right = area.left() + area.width() * 0.22, area.right() - area.width() * 0.22
    thick = max(1.4, area.width() / 11)
    painter.setPen(QPen(faint, thick))
    painter.drawLine(QPointF(left, area.top()), QPointF(left, area.bottom()))
    painter.drawLine(QPointF(right, area.top()), QPointF(right, area.bottom()))
    painter.setPen(QPen(colour, thick * 1.25))
    for step in range(reached):
        height = area.bottom() - area.height() * (step + 0.5) / 5
        painter.drawLine(QPointF(left, height), QPointF(right, height))


_SHAPES: dict[str, Shape] = {
    "stop": _gate,
    "caution": _wedge,
    "note": _leaf,
    "good": _tick,
    "yes": _tick,
    "no": _cross,
    "silent": _dots,
    "left": _dots,
    "current": _dial(0.2, False),
    "stale": _dial(0.62, False),
    "withdrawn": _dial(0, True),
    "unknown": _open_ring,
}


class Mark(QWidget):
    """One shape as large as a line of text; the words beside it carry its meaning."""

    def __init__(self, mark: str, parent: QWidget | None = None, scale: float = 2.2) -> None:
        super().__init__(parent)
        self._mark = mark
        self._scale = scale
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    def show_mark(self, mark: str) -> None:
        """Draw another shape from now on."""
        self._mark = mark
        self.update()

    def sizeHint(self) -> QSize:
        """A little larger than a letter."""
        side = round(unit(self) * self._scale)
        return QSize(side, side)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the shape."""
        painter = QPainter(self)
        draw(painter, QRectF(self.rect()).adjusted(1, 1, -1, -1), self._mark, tones_of(self))
        painter.end()
