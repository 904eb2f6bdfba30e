"""A vertical ruler of the piece or of one part of it, to scale: what lies where, in words, and what lies in that.

A part that can be stepped into has a notch; the narrow column beside the bar shows, to the same scale, what it holds.
"""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QBrush, QColor, QFontMetrics, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from ui.look import Tones, sized, tones_of, unit
from ui.models.stretches import Stretch
from ui.text import offset, plain, size
from ui.widgets.basics import focus_frame

MOST_LABELS = 60
"""Stretches that are read aloud."""
WIDEST = 0.3
"""The most of the width around it that the ruler takes."""
MOST_SHOWN = 18
"""Stretches that have words beside the bar: more would be a thicket of lines."""
LEAST_STEP = 8
"""Bytes from which on a stretch that is no part is stopped at by the arrow keys."""


class Ruler(QWidget):
    """Stretches from top to bottom, their heights to scale, their words beside them."""

    chosen = Signal(int)
    entered = Signal(tuple)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._spans: list[Stretch] = []
        self._start = 0
        self._size = 0
        self._unpacked = False
        self._at = -1
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
        self.setAccessibleName("Ruler of the piece, to scale")
        self.setCursor(Qt.CursorShape.PointingHandCursor)

    def show_spans(self, spans: list[Stretch], total: int, start: int = 0, *, unpacked: bool = False) -> None:
        """Show other stretches; they cover `total` bytes from `start` on."""
        self._spans = spans
        self._start = start
        self._size = total
        self._unpacked = unpacked
        self._at = -1
        told = "; ".join(
            f"{plain(one.name, 60)} at {offset(one.offset)}, {size(one.length)}"
            + (", can be stepped into" if one.way is not None else "")
            for one in spans[:MOST_LABELS]
        )
        self.setAccessibleDescription(told)
        self.update()

    def show_byte(self, at: int) -> None:
        """Mark where a person stands."""
        self._at = at
        self.update()

    @property
    def spans(self) -> list[Stretch]:
        """The stretches shown."""
        return self._spans

    def sizeHint(self) -> QSize:
        """A bar and its words."""
        return QSize(unit(self) * 23, 240)

    def fit(self, around: int) -> None:
        """Take a share of the width around: where there is little room, the lines of the piece get most of it."""
        self.setFixedWidth(max(unit(self) * 6, min(unit(self) * 23, round(around * WIDEST))))

    def bar(self) -> QRect:
        """The bar the stretches are drawn into."""
        step = unit(self)
        tall = QFontMetrics(sized(self.font(), 0.8)).height()
        return QRect(step, tall + step // 2, step * 3, max(20, self.height() - 2 * tall - step))

    def span_box(self, span: Stretch, bar: QRectF | None = None) -> QRectF:
        """A stretch's box, exactly to scale; `bar` where it is known already."""
        bar = QRectF(self.bar()) if bar is None else bar
        scale = bar.height() / max(1, self._size)
        return QRectF(bar.left(), bar.top() + (span.offset - self._start) * scale, bar.width(), span.length * scale)

    def labels(self) -> list[tuple[Stretch, float]]:
        """Each labelled stretch and the height of its words' middle; words never overlap, the largest are kept."""
        tall = QFontMetrics(sized(self.font(), 0.82)).height() * 2 + 2
        bar = self.bar()
        room = max(1, min(MOST_SHOWN, (bar.height() - 8) // tall))
        spans = self._spans
        if len(spans) > room:  # words for what cannot be seen would only crowd the rest
            spans = [one for one in spans if one.length * bar.height() >= self._size]
        kept = sorted(sorted(spans, key=lambda one: -one.length)[:room], key=lambda one: one.offset)
        middles = [self.span_box(one).center().y() for one in kept]
        top = bar.top() + tall / 2 - 4
        for at in range(len(middles)):
            middles[at] = max(middles[at], top)
            top = middles[at] + tall
        bottom = bar.bottom() - tall / 2 + 8
        for at in reversed(range(len(middles))):
            middles[at] = min(middles[at], bottom)
            bottom = middles[at] - tall
        return list(zip(kept, middles, strict=True))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the bar, the words and the pointer."""
        if not self._size:
            return
        tones = tones_of(self)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        bar = self.bar()
        step = unit(self)
        small = sized(self.font(), 0.8)
        painter.setFont(small)
        painter.setPen(QColor(tones.soft))
        tall = QFontMetrics(small).height()
        first = f"{offset(self._start)}, first" if self._start else "0h, first"
        wide = self.width() - step
        kind = "unpacked byte" if self._unpacked else "byte"
        painter.drawText(QRect(step, 0, wide, tall), Qt.AlignmentFlag.AlignLeft, f"{first} {kind}")
        end = f"{offset(self._start + self._size)}, end"
        painter.drawText(QRect(step, self.height() - tall, wide, tall), Qt.AlignmentFlag.AlignLeft, end)
        painter.fillRect(bar, QColor(tones.sheet))
        self._stretches(painter, QRectF(bar), tones)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(tones.ink), 1))
        painter.drawRect(bar)
        self._ticks(painter, bar)
        self._labels(painter, bar)
        if 0 <= self._at - self._start < self._size:
            y = bar.top() + bar.height() * (self._at - self._start) / self._size
            painter.setPen(QPen(QColor(tones.ink), 2))
            painter.drawLine(QPointF(bar.left() - 2, y), QPointF(bar.right() + 2, y))
            painter.setBrush(QColor(tones.ink))
            side = step * 0.55
            painter.drawPolygon(QPolygonF([QPointF(bar.left(), y), QPointF(bar.left() - side, y - side),
                                           QPointF(bar.left() - side, y + side)]))  # fmt: skip
        if self.hasFocus():
            focus_frame(painter, self.rect(), tones.accent)
        painter.end()

    def _stretches(self, painter: QPainter, bar: QRectF, tones: Tones) -> None:
        """The bar's stretches; of those thinner than a line that follow on each other, some stand for all."""
        brushes = [QBrush(QColor(tones.note)), QBrush(QColor(tones.accent))]
        hatched = QBrush(QColor(tones.line), Qt.BrushStyle.BDiagPattern)
        painter.setPen(QPen(QColor(tones.sheet), 1))
        scale = bar.height() / max(1, self._size)
        filled = 0
        drawn = bar.top() - 1
        for span in self._spans:
            if bar.top() + (span.offset - self._start + span.length) * scale < drawn + 1:
                continue
            box = self.span_box(span, bar)
            empty = span.empty
            filled += not empty
            drawn = box.bottom()
            painter.fillRect(box, hatched if empty else brushes[filled % 2])
            painter.drawLine(box.bottomLeft(), box.bottomRight())
            if span.inner:
                self._inner(painter, span, bar, tones)

    def _inner(self, painter: QPainter, span: Stretch, bar: QRectF, tones: Tones) -> None:
        """What lies in one stretch, in the narrow column; what is too small to be told apart is left to stepping in."""
        scale = bar.height() / max(1, self._size)
        left, wide = bar.right() + 3, unit(self) * 0.8
        last = -2.0
        for number, (at, length, empty) in enumerate(span.inner):
            top, tall = bar.top() + (at - self._start) * scale, length * scale
            if top < last + 1 or tall < 1:
                continue
            last = top + tall
            fill = QBrush(QColor(tones.line if empty else (tones.note if number % 2 == 0 else tones.accent)))
            if empty:
                fill.setStyle(Qt.BrushStyle.BDiagPattern)
            painter.fillRect(QRectF(left, top, wide, max(1.0, tall - 1)), fill)

    def _ticks(self, painter: QPainter, bar: QRect) -> None:
        painter.setPen(QPen(QColor(tones_of(self).ink), 1))
        for part in range(1, 16):
            y = bar.top() + bar.height() * part / 16
            painter.drawLine(QPointF(bar.left(), y), QPointF(bar.left() + (7 if part % 4 == 0 else 4), y))

    def _labels(self, painter: QPainter, bar: QRect) -> None:
        tones = tones_of(self)
        small = sized(self.font(), 0.82)
        metrics = QFontMetrics(small)
        left = bar.right() + unit(self) * 3
        for span, middle in self.labels():
            box = self.span_box(span)
            painter.setPen(QPen(QColor(tones.soft), 1))
            painter.drawLine(QPointF(bar.right() + 3 + unit(self), box.center().y()), QPointF(left - 3, middle))
            wide = self.width() - left - 2
            painter.setFont(small)
            painter.setPen(QColor(tones.ink))
            if span.way is not None:
                self._notch(painter, left, middle - 2 - metrics.ascent() / 2)
            indent = unit(self) if span.way is not None else 0
            name = metrics.elidedText(plain(span.name, 80), Qt.TextElideMode.ElideRight, wide - indent)
            painter.drawText(QPointF(left + indent, middle - 2), name)
            painter.setPen(QColor(tones.soft))
            painter.drawText(
                QPointF(left, middle + metrics.ascent()),
                metrics.elidedText(size(span.length), Qt.TextElideMode.ElideRight, wide),
            )

    def _notch(self, painter: QPainter, left: float, middle: float) -> None:
        """The sign of a stretch that can be stepped into."""
        side = unit(self) * 0.38
        painter.save()
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(tones_of(self).accent))
        painter.drawPolygon(QPolygonF([QPointF(left, middle - side), QPointF(left + side * 1.5, middle),
                                       QPointF(left, middle + side)]))  # fmt: skip
        painter.restore()

    def stretch_at(self, at: int) -> Stretch | None:
        """The stretch that byte `at` lies in."""
        return next((one for one in self._spans if one.offset <= at < one.offset + one.length), None)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """A double press steps into the part that lies there."""
        self._enter()

    def _enter(self) -> None:
        here = self.stretch_at(self._at)
        if here is not None and here.way is not None:
            self.entered.emit(here.way)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """A press chooses the byte there, or the stretch whose words were pressed."""
        point = event.position()
        if not self._size:
            return
        bar = self.bar()
        if point.x() <= bar.right() + 2:
            share = (point.y() - bar.top()) / max(1, bar.height())
            self.chosen.emit(self._start + min(self._size - 1, max(0, int(share * self._size))))
            return
        labelled = self.labels()
        if labelled:
            span, _ = min(labelled, key=lambda one: abs(one[1] - point.y()))
            self.chosen.emit(span.offset)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Up and down walk from stretch to stretch; Enter steps into the part that lies there."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._enter()
            return
        step = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}.get(Qt.Key(event.key()))
        stops = [one for one in self._spans if one.way is not None or one.length >= LEAST_STEP] or self._spans
        if step is None or not stops:
            super().keyPressEvent(event)
            return
        here = max((at for at, one in enumerate(stops) if one.offset <= self._at), default=-1)
        self.chosen.emit(stops[min(len(stops) - 1, max(0, here + step))].offset)
