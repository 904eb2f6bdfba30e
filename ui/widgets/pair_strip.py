"""The bytes of A and B that one difference is about, each on a ruled strip, one above the other.

Between the strips a wedge points at each pair of bytes that differs. Left and right walk byte by byte.
"""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRect, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetrics, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from ui import text
from ui.look import sized, tones_of, unit
from ui.models.lines import Line
from ui.session import Session
from ui.widgets import tape
from ui.widgets.basics import focus_frame
from ui.widgets.byte_store import ByteStore


@dataclass(frozen=True, slots=True)
class Stretch:
    """Where a difference stands in one side: `length` bytes at `offset`; no bytes where that side has none."""

    offset: int = 0
    length: int = 0


NONE = Stretch()


class PairStrip(QWidget):
    """Two strips; `told` carries a sentence on the bytes that a person stands on."""

    told = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.stores = (ByteStore(session, self), ByteStore(session, self))
        self._sizes = (0, 0)
        self.stretches = (NONE, NONE)
        self.at = -1
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        policy.setRetainSizeWhenHidden(True)  # else the list above would shrink over the row that was chosen
        self.setSizePolicy(policy)
        self.setAccessibleName("Bytes of A and of B, one strip above the other")
        for store in self.stores:
            store.arrived.connect(self._arrived)
        self.hide()

    def show_pieces(self, a: str, a_size: int, b: str, b_size: int) -> None:
        """Hold the bytes of two other pieces."""
        self.stores[0].show_piece(a, a_size)
        self.stores[1].show_piece(b, b_size)
        self._sizes = (a_size, b_size)
        self.show_stretches(NONE, NONE)

    def show_stretches(self, a: Stretch, b: Stretch) -> None:
        """Show a stretch of each side; hidden where neither has bytes."""
        self.stretches = (_inside(a, self._sizes[0]), _inside(b, self._sizes[1]))
        self.at = -1
        self.setVisible(any(one.length for one in self.stretches))
        self._arrived()

    def sizeHint(self) -> QSize:
        """Two strips, and the wedges between them."""
        return QSize(240, 2 * tape.height(self.font()) + 3 * unit(self))

    def tapes(self) -> tuple[tape.Tape | None, tape.Tape | None]:
        """Both strips, laid out so that what stands for each other stands under each other."""
        step = unit(self)
        left = step + QFontMetrics(sized(self.font(), 1.0, bold=True)).horizontalAdvance("A ") + step // 2
        tall = tape.height(self.font())
        laid: list[tape.Tape | None] = []
        for side, one in enumerate(self.stretches):
            top = step // 2 + side * (tall + step * 2)
            if not one.length:
                laid.append(None)
                continue
            line = Line("field", "", offset=one.offset, length=one.length)
            box = QRect(left, top, self.width() - left - step, tall)
            chosen = one.offset + self.at if 0 <= self.at < one.length else -1
            laid.append(tape.lay(box, line, self._sizes[side], chosen, self.font()))
        return laid[0], laid[1]

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw letters, strips and wedges."""
        tones = tones_of(self)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        both = self.tapes()
        step = unit(self)
        for side, laid in enumerate(both):
            top = step // 2 + side * (tape.height(self.font()) + step * 2)
            row = QRect(step, top, self.width() - 2 * step, QFontMetrics(self.font()).height())
            painter.setFont(sized(self.font(), 1.0, bold=True))
            painter.setPen(QColor(tones.ink))
            painter.drawText(row, Qt.AlignmentFlag.AlignLeft, "AB"[side])
            if laid is None:
                painter.setFont(self.font())
                painter.setPen(QColor(tones.soft))
                painter.drawText(row.adjusted(step * 3, 0, 0, 0), Qt.AlignmentFlag.AlignLeft, "has no bytes here")
                continue
            chosen = self.stretches[side].offset + self.at if self.at >= 0 else -1
            tape.paint(painter, laid, self.stores[side].peek, chosen=chosen, tones=tones, font=self.font())
        self._wedges(painter, both)
        if self.hasFocus():
            focus_frame(painter, self.rect(), tones.accent)
        painter.end()

    def differing(self) -> list[int]:
        """Which bytes shown of both differ, counted from the beginning of the stretches."""
        both = self.tapes()
        if both[0] is None or both[1] is None:
            return []
        a, b = self.stretches
        first = max(0, both[0].first - a.offset, both[1].first - b.offset)
        end = min(both[0].own_shown_to - a.offset, both[1].own_shown_to - b.offset)
        found = []
        for at in range(first, end):
            one, other = self.stores[0].peek(a.offset + at), self.stores[1].peek(b.offset + at)
            if one is not None and other is not None and one != other:
                found.append(at)
        return found

    def _wedges(self, painter: QPainter, both: tuple[tape.Tape | None, tape.Tape | None]) -> None:
        if both[0] is None or both[1] is None:
            return
        side = unit(self) * 0.5
        y = both[1].box.top() - side * 0.4
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(tones_of(self).accent))
        for at in self.differing():
            x = QRect(both[1].cell_box(self.stretches[1].offset + at)).center().x()
            painter.drawPolygon(QPolygonF([QPointF(x, y), QPointF(x - side, y - side), QPointF(x + side, y - side)]))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Left and right walk the bytes, Home and End go to the first and the last."""
        most = max(one.length for one in self.stretches)
        there = {
            Qt.Key.Key_Left: max(0, self.at - 1),
            Qt.Key.Key_Right: min(most - 1, self.at + 1),
            Qt.Key.Key_Home: 0,
            Qt.Key.Key_End: most - 1,
        }.get(Qt.Key(event.key()))
        if there is None or not most:
            super().keyPressEvent(event)
            return
        self.stand_on(there)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """A press on a byte chooses it and its counterpart."""
        point = event.position().toPoint()
        for one, laid in zip(self.stretches, self.tapes(), strict=True):
            under = -1 if laid is None else laid.byte_under(point.x(), point.y())
            if one.offset <= under < one.offset + one.length:
                self.stand_on(under - one.offset)
                return
        super().mousePressEvent(event)

    def stand_on(self, at: int) -> None:
        """Stand on the byte that lies `at` bytes into the stretches."""
        self.at = at
        self._arrived()
        said = [self._byte(side) for side in (0, 1)]
        self.told.emit(f"{said[0]}; {said[1]}")

    def _byte(self, side: int) -> str:
        one, letter = self.stretches[side], "AB"[side]
        if not 0 <= self.at < one.length:
            return f"{letter} has no byte there"
        value = self.stores[side].peek(one.offset + self.at)
        shown = "not here yet" if value is None else f"{value:02X}h, {value}"
        return f"Byte {text.offset(one.offset + self.at)} of {letter} is {shown}"

    def _arrived(self) -> None:
        said = []
        for letter, one, store in zip("AB", self.stretches, self.stores, strict=True):
            if not one.length:
                said.append(f"{letter} has no bytes here")
                continue
            values = [store.peek(one.offset + at) for at in range(min(one.length, 16))]
            shown = " ".join("··" if value is None else f"{value:02X}" for value in values)
            said.append(f"{letter}, {text.size(one.length)} at {text.offset(one.offset)}: {shown}")
        trouble = [store.trouble for store in self.stores if store.trouble]
        self.setAccessibleDescription("; ".join([*said, *trouble]))
        self.update()


def _inside(one: Stretch, size: int) -> Stretch:
    """The stretch as far as it lies in a piece of `size` bytes."""
    if one.offset < 0 or one.offset >= size or one.length <= 0:
        return NONE
    return Stretch(one.offset, min(one.length, size - one.offset))
