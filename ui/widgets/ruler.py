"""A vertical ruler of the whole piece, to scale: images, padding, signature and unused space, each in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QBrush, QColor, QFontMetrics, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from ui.look import sized, tones_of, unit
from ui.text import offset, plain, size
from ui.widgets.basics import focus_frame

if TYPE_CHECKING:
    from catalogue.shapes.reading import Span


MOST_LABELS = 60
EMPTY_WORDS = ("padding", "unused", "not read", "fill", "blank")


class Ruler(QWidget):
    """Stretches from top to bottom, their heights to scale, their words beside them."""

    chosen = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._spans: list[Span] = []
        self._size = 0
        self._at = -1
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
        self.setAccessibleName("Ruler of the piece, to scale")
        self.setCursor(Qt.CursorShape.PointingHandCursor)

    def show_spans(self, spans: list[Span], total: int) -> None:
        """Show other stretches; they cover the piece from 0 to `total`."""
        self._spans = spans
        self._size = total
        self._at = -1
        told = "; ".join(
            f"{plain(one.name, 60)} at {offset(one.offset)}, {size(one.length)}" for one in spans[:MOST_LABELS]
        )
        self.setAccessibleDescription(told)
        self.setToolTip("")
        self.update()

    def show_byte(self, at: int) -> None:
        """Mark where a person stands."""
        self._at = at
        self.update()

    @property
    def spans(self) -> list[Span]:
        """The stretches shown."""
        return self._spans

    def sizeHint(self) -> QSize:
        """A bar and its words."""
        return QSize(unit(self) * 23, 240)

    def bar(self) -> QRect:
        """The bar the stretches are drawn into."""
        step = unit(self)
        tall = QFontMetrics(sized(self.font(), 0.8)).height()
        return QRect(step, tall + step // 2, step * 3, max(20, self.height() - 2 * tall - step))

    def span_box(self, span: Span) -> QRectF:
        """A stretch's box, exactly to scale."""
        bar = QRectF(self.bar())
        scale = bar.height() / max(1, self._size)
        return QRectF(bar.left(), bar.top() + span.offset * scale, bar.width(), span.length * scale)

    def labels(self) -> list[tuple[Span, float]]:
        """Each labelled stretch and the height of its words' middle; words never overlap, the largest are kept."""
        tall = QFontMetrics(sized(self.font(), 0.82)).height() * 2 + 2
        bar = self.bar()
        room = max(1, min(MOST_LABELS, (bar.height() + tall) // tall))
        kept = sorted(sorted(self._spans, key=lambda one: -one.length)[:room], key=lambda one: one.offset)
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
        painter.drawText(QRect(step, 0, self.width() - step, tall), Qt.AlignmentFlag.AlignLeft, "0h, first byte")
        painter.drawText(QRect(step, self.height() - tall, self.width() - step, tall), Qt.AlignmentFlag.AlignLeft,
                         f"{offset(self._size)}, end")  # fmt: skip
        painter.fillRect(bar, QColor(tones.sheet))
        for at, span in enumerate(self._spans):
            box = self.span_box(span)
            empty = any(word in span.name.lower() for word in EMPTY_WORDS)
            fill = QBrush(QColor(tones.line if empty else (tones.accent if at % 2 == 0 else tones.note)))
            if empty:
                fill.setStyle(Qt.BrushStyle.BDiagPattern)
            painter.fillRect(box, fill)
            painter.setPen(QPen(QColor(tones.sheet), 1))
            painter.drawLine(box.bottomLeft(), box.bottomRight())
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(tones.ink), 1))
        painter.drawRect(bar)
        self._ticks(painter, bar)
        self._labels(painter, bar)
        if 0 <= self._at < self._size:
            y = bar.top() + bar.height() * self._at / self._size
            painter.setPen(QPen(QColor(tones.ink), 2))
            painter.drawLine(QPointF(bar.left() - 2, y), QPointF(bar.right() + 2, y))
            painter.setBrush(QColor(tones.ink))
            side = step * 0.55
            painter.drawPolygon(QPolygonF([QPointF(bar.left(), y), QPointF(bar.left() - side, y - side),
                                           QPointF(bar.left() - side, y + side)]))  # fmt: skip
        if self.hasFocus():
            focus_frame(painter, self.rect(), tones.accent)
        painter.end()

    def _ticks(self, painter: QPainter, bar: QRect) -> None:
        painter.setPen(QPen(QColor(tones_of(self).ink), 1))
        for part in range(1, 16):
            y = bar.top() + bar.height() * part / 16
            painter.drawLine(QPointF(bar.left(), y), QPointF(bar.left() + (7 if part % 4 == 0 else 4), y))

    def _labels(self, painter: QPainter, bar: QRect) -> None:
        tones = tones_of(self)
        small = sized(self.font(), 0.82)
        metrics = QFontMetrics(small)
        left = bar.right() + unit(self) * 2
        for span, middle in self.labels():
            box = self.span_box(span)
            painter.setPen(QPen(QColor(tones.soft), 1))
            painter.drawLine(QPointF(bar.right() + 1, box.center().y()), QPointF(left - 3, middle))
            wide = self.width() - left - 2
            painter.setFont(small)
            painter.setPen(QColor(tones.ink))
            name = metrics.elidedText(plain(span.name, 80), Qt.TextElideMode.ElideRight, wide)
            painter.drawText(QPointF(left, middle - 2), name)
            painter.setPen(QColor(tones.soft))
            painter.drawText(
                QPointF(left, middle + metrics.ascent()),
                metrics.elidedText(size(span.length), Qt.TextElideMode.ElideRight, wide),
            )

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """A press chooses the byte there, or the stretch whose words were pressed."""
        point = event.position()
        if not self._size:
            return
        bar = self.bar()
        if point.x() <= bar.right() + 2:
            share = (point.y() - bar.top()) / max(1, bar.height())
            self.chosen.emit(min(self._size - 1, max(0, int(share * self._size))))
            return
        labelled = self.labels()
        if labelled:
            span, _ = min(labelled, key=lambda one: abs(one[1] - point.y()))
            self.chosen.emit(span.offset)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Up and down walk from stretch to stretch."""
        step = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}.get(Qt.Key(event.key()))
        if step is None or not self._spans:
            super().keyPressEvent(event)
            return
        here = next((at for at, one in enumerate(self._spans) if one.offset <= self._at < one.offset + one.length), -1)
        there = min(len(self._spans) - 1, max(0, here + step))
        self.chosen.emit(self._spans[there].offset)
