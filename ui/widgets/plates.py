"""The row of plates that leads from page to page; each says in words how things stand on its page."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QHBoxLayout, QSizePolicy, QWidget

from ui.look import sized, tones_of, unit
from ui.text import plain
from ui.widgets.basics import focus_frame, press_by, spoken_keys


class Plate(QAbstractButton):
    """One page's plate: its name, its keys, and one line of news."""

    def __init__(self, title: str, keys: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._keys = keys
        self._news = ""
        self.setText(title)
        self.setCheckable(True)
        press_by(self, keys)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.tell("")

    def tell(self, news: str) -> None:
        """Show one line of news under the name."""
        self._news = plain(news, 120)
        self.setAccessibleName(f"Page {self.text()}")
        self.setAccessibleDescription(f"{spoken_keys(self._keys)}. {self._news}")
        self.update()

    def sizeHint(self) -> QSize:
        """Two lines of text and room around them."""
        step = unit(self)
        return QSize(step * 24, round(step * 5.6))

    def minimumSizeHint(self) -> QSize:
        """Wide enough for the name and the keys."""
        return QSize(unit(self) * 13, self.sizeHint().height())

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw name, keys and news; the open page's plate is a sheet that joins the page, with a bar over it."""
        tones = tones_of(self)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        step = unit(self)
        box = QRectF(self.rect())
        if self.isChecked():
            painter.fillRect(box, QColor(tones.sheet))
            painter.fillRect(QRectF(0, 0, box.width(), max(3.0, step * 0.5)), QColor(tones.accent))
        elif self.underMouse():
            painter.fillRect(box, QColor(tones.band))
        painter.setPen(QPen(QColor(tones.line), 1))
        painter.drawLine(box.topLeft(), box.bottomLeft())
        inner = self.rect().adjusted(step + 4, step, -step, -step // 2)
        bold = sized(self.font(), 1.1, bold=self.isChecked())
        painter.setFont(bold)
        painter.setPen(QColor(tones.ink))
        painter.drawText(inner, Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft, self.text())
        small = sized(self.font(), 0.85)
        painter.setFont(small)
        painter.setPen(QColor(tones.soft))
        painter.drawText(inner, Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignRight, spoken_keys(self._keys))
        news = QFontMetrics(small).elidedText(self._news, Qt.TextElideMode.ElideRight, inner.width())
        painter.drawText(inner, Qt.AlignmentFlag.AlignBottom | Qt.AlignmentFlag.AlignLeft, news)
        if self.hasFocus():
            focus_frame(painter, self.rect(), tones.accent)
        painter.end()


class Plates(QWidget):
    """All plates in a row."""

    chosen = Signal(int)

    def __init__(self, titles: tuple[str, ...], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._plates = [Plate(title, f"Ctrl+{at + 1}", self) for at, title in enumerate(titles)]
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        for at, plate in enumerate(self._plates):
            plate.clicked.connect(lambda _=False, one=at: self.chosen.emit(one))
            row.addWidget(plate)

    def plate(self, at: int) -> Plate:
        """The plate of page `at`."""
        return self._plates[at]

    def show_page(self, at: int) -> None:
        """Mark page `at` as the open one."""
        for number, plate in enumerate(self._plates):
            plate.setChecked(number == at)
