"""Words, buttons and frames that every page is made of."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetrics, QKeySequence, QPainter, QPaintEvent, QPen, QShortcut
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from ui.look import sized, tones_of, unit
from ui.text import plain_lines
from ui.widgets.marks import Mark, draw


class Words(QLabel):
    """Plain text, wrapped, that can be chosen and copied. `soft` is for what stands beside the main thing."""

    def __init__(
        self,
        text: str = "",
        parent: QWidget | None = None,
        *,
        factor: float = 1.0,
        bold: bool = False,
        soft: bool = False,
    ) -> None:
        super().__init__(parent)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setWordWrap(True)
        self.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._factor, self._bold = factor, bold
        self.rescale()
        if soft:
            self.setForegroundRole(self.foregroundRole().PlaceholderText)
        self.say(text)

    def rescale(self) -> None:
        """Follow the text size of the whole program, which Qt does not hand to a font of its own size."""
        if self._factor != 1.0 or self._bold:
            self.setFont(sized(QApplication.font(), self._factor, bold=self._bold))

    def say(self, text: str) -> None:
        """Show `text`, made harmless."""
        self.setText(plain_lines(text, 8_000))


class Said(QWidget):
    """A shape and the words it goes with, on one line or more."""

    def __init__(self, mark: str, text: str, parent: QWidget | None = None, *, bold: bool = False) -> None:
        super().__init__(parent)
        self.mark = Mark(mark, self)
        self.words = Words(text, self, bold=bold)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(unit(self) // 2 + 2)
        row.addWidget(self.mark, 0, Qt.AlignmentFlag.AlignTop)
        row.addWidget(self.words, 1)

    def say(self, mark: str, text: str) -> None:
        """Show another shape and other words."""
        self.mark.show_mark(mark)
        self.words.say(text)


class Button(QPushButton):
    """A button with its keys beside its words; the `next` kind is what a person most likely needs now."""

    def __init__(self, text: str, parent: QWidget | None = None, *, keys: str = "", kind: str = "plain") -> None:
        super().__init__(text, parent)
        self._keys = keys
        self._kind = kind
        self.setAccessibleName(text)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setAutoDefault(False)
        if keys:
            press_by(self, keys)
            self.setAccessibleDescription(spoken_keys(keys))

    def setText(self, text: str) -> None:
        """Change the words, and the name that is read aloud with them."""
        super().setText(text)
        self.setAccessibleName(text)
        self.updateGeometry()

    def sizeHint(self) -> QSize:
        """Room for the words and the keys, tall enough for a glove."""
        step = unit(self)
        width = (
            QFontMetrics(sized(self.font(), 1.0, bold=self._kind == "next")).horizontalAdvance(self.text()) + step * 3
        )
        if self._keys:
            width += QFontMetrics(sized(self.font(), 0.85)).horizontalAdvance(spoken_keys(self._keys)) + step
        return QSize(width, round(step * (3.2 if self._kind == "small" else 4)))

    def minimumSizeHint(self) -> QSize:
        """The same: words are never cut off."""
        return self.sizeHint()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw a plate: filled for the next thing to do, else outlined; a heavy frame shows the focus."""
        tones = tones_of(self)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(self.rect()).adjusted(1.5, 1.5, -1.5, -1.5)
        filled = self._kind == "next" and self.isEnabled()
        ground = tones.accent if filled else tones.sheet
        if self.isDown():
            ground = tones.chosen if not filled else tones.ink
        elif self.underMouse() and self.isEnabled() and not filled:
            ground = tones.chosen
        edge = tones.accent if self.isEnabled() else tones.line
        pen = QPen(QColor(edge), 1.2)
        if not self.isEnabled():
            pen.setStyle(Qt.PenStyle.DashLine)
            ground = tones.ground
        painter.setPen(pen)
        painter.setBrush(QColor(ground))
        painter.drawRoundedRect(box, 4, 4)
        ink = tones.on_accent if filled else (tones.ink if self.isEnabled() else tones.soft)
        if filled and self.isDown():
            ink = tones.sheet
        step = unit(self)
        inner = self.rect().adjusted(round(step * 1.5), 0, -round(step * 1.5), 0)
        painter.setPen(QColor(ink))
        painter.setFont(sized(self.font(), 1.0, bold=self._kind == "next"))
        align = Qt.AlignmentFlag.AlignVCenter
        painter.drawText(
            inner, align | (Qt.AlignmentFlag.AlignLeft if self._keys else Qt.AlignmentFlag.AlignHCenter), self.text()
        )
        if self._keys:
            painter.setFont(sized(self.font(), 0.85))
            if not filled:
                painter.setPen(QColor(tones.soft))
            painter.drawText(inner, align | Qt.AlignmentFlag.AlignRight, spoken_keys(self._keys))
        if self.hasFocus():
            focus_frame(painter, self.rect(), tones.ink if filled else tones.accent)
        painter.end()


def press_by(button: QAbstractButton, keys: str) -> None:
    """Let keys press a button at once, as long as it is seen and enabled (Qt's own way waits a tenth of a second)."""
    QShortcut(QKeySequence(keys), button, button.click)


class Entry(QLineEdit):
    """A line to write in, with an edge that can be seen in light and dark, heavy when it has the focus."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFrame(False)
        self.setTextMargins(unit(self), 0, unit(self) // 2, 0)
        self.setMinimumHeight(unit(self) * 4)

    def changeEvent(self, event: QEvent) -> None:
        """Grow with the text."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.ApplicationFontChange):
            self.setMinimumHeight(unit(self) * 4)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the edge over the line."""
        super().paintEvent(event)
        tones = tones_of(self)
        painter = QPainter(self)
        if self.hasFocus():
            painter.setPen(QPen(QColor(tones.accent), 2))
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))
        else:
            painter.setPen(QColor(tones.soft if self.isEnabled() else tones.line))
            painter.drawRect(self.rect().adjusted(0, 0, -1, -1))
        painter.end()


class Tick(QAbstractButton):
    """A box with words that is ticked or not."""

    def __init__(self, text: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setText(text)
        self.setCheckable(True)
        self.setAccessibleName(text)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        """The box and the words."""
        step = unit(self)
        return QSize(self.fontMetrics().horizontalAdvance(self.text()) + step * 5, step * 4)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw box, tick and words."""
        tones = tones_of(self)
        step = unit(self)
        painter = QPainter(self)
        side = step * 2
        box = QRect(step // 2 + 2, (self.height() - side) // 2, side, side)
        painter.fillRect(box, QColor(tones.sheet))
        painter.setPen(QPen(QColor(tones.soft), 1))
        painter.drawRect(box)
        if self.isChecked():
            draw(painter, QRectF(box).adjusted(2, 2, -1, -1), "good", tones)
        painter.setPen(QColor(tones.ink if self.isEnabled() else tones.soft))
        words = self.rect().adjusted(box.right() + step, 0, 0, 0)
        painter.drawText(words, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, self.text())
        if self.hasFocus():
            focus_frame(painter, self.rect(), tones.accent)
        painter.end()


class Choice(Tick):
    """One of several ways, of which one is taken: a ring before its words, filled when it is the one."""

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw ring and words."""
        tones = tones_of(self)
        step = unit(self)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        side = step * 1.8
        box = QRectF(step / 2 + 3, (self.height() - side) / 2, side, side)
        painter.setPen(QPen(QColor(tones.soft), 1.4))
        painter.setBrush(QColor(tones.sheet))
        painter.drawEllipse(box)
        if self.isChecked():
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(tones.accent))
            painter.drawEllipse(box.adjusted(3, 3, -3, -3))
        painter.setPen(QColor(tones.ink))
        painter.setFont(sized(self.font(), 1.0, bold=self.isChecked()))
        words = self.rect().adjusted(round(box.right()) + step, 0, 0, 0)
        painter.drawText(words, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, self.text())
        if self.hasFocus():
            focus_frame(painter, self.rect(), tones.accent)
        painter.end()

    def sizeHint(self) -> QSize:
        """Room for bold words."""
        step = unit(self)
        wide = QFontMetrics(sized(self.font(), 1.0, bold=True)).horizontalAdvance(self.text())
        return QSize(wide + step * 5, round(step * 3.4))


def spoken_keys(keys: str) -> str:
    """Keys as words: "Ctrl+O" is "Ctrl O"."""
    return keys.replace("+", " ")


def focus_frame(painter: QPainter, box: QRect, colour: str) -> None:
    """The heavy frame that shows where the keyboard is."""
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(QColor(colour), 2))
    painter.drawRoundedRect(QRectF(box).adjusted(1, 1, -1, -1), 5, 5)


class Sheet(QFrame):
    """A frame with the colour of what is read, and a thin line around it."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAutoFillBackground(True)
        self.setBackgroundRole(self.backgroundRole().Base)
        step = unit(self)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(step * 2, step + 4, step * 2, step + 4)
        self.column.setSpacing(step)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the line."""
        painter = QPainter(self)
        painter.setPen(QColor(tones_of(self).line))
        painter.drawRect(self.rect().adjusted(0, 0, -1, -1))
        painter.end()


def wipe(widget: QWidget) -> None:
    """Take everything out of a widget's layout."""
    layout = widget.layout()
    while layout is not None and layout.count():
        item = layout.takeAt(0)
        inside = item.widget() if item is not None else None
        if inside is not None:
            inside.hide()
            inside.setParent(None)
            inside.deleteLater()
