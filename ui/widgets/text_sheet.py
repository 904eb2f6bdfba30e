"""A text with one line marked: a checksum list, a family file, a host file, a saved text."""

from __future__ import annotations

from PySide6.QtGui import QColor, QFontDatabase, QShowEvent, QTextCharFormat, QTextCursor
from PySide6.QtWidgets import QDialog, QHBoxLayout, QPlainTextEdit, QTextEdit, QVBoxLayout, QWidget

from catalogue.shapes.target import TextLines
from ui import text
from ui.look import tones_of, unit
from ui.widgets.basics import Button, Words

MOST_IN_LINE = 2_000


class TextSheet(QDialog):
    """Shows the lines with their numbers; the wanted one is marked by a sign and a band, and stands in the middle."""

    def __init__(self, lines: TextLines, title: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.setModal(True)
        step = unit(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(step * 3, step * 2, step * 3, step * 2)
        column.setSpacing(step)
        column.addWidget(Words(title, self, factor=1.25, bold=True))
        said = f"Line {lines.wanted}" if lines.wanted else "From its beginning"
        more = "; there is more of it than is shown" if lines.cut else ""
        column.addWidget(Words(said + more, self, soft=True))
        self.area = QPlainTextEdit(self)
        self.area.setReadOnly(True)
        self.area.setLineWrapMode(QPlainTextEdit.LineWrapMode.NoWrap)
        self.area.setFont(QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont))
        self.area.setAccessibleName(f"{title}, {said.lower()}")
        wide = len(str(lines.first + len(lines.lines)))
        self.area.setPlainText(
            "\n".join(
                f"{'›' if number == lines.wanted else ' '} {number:>{wide}}  {text.plain(line, MOST_IN_LINE)}"
                for number, line in enumerate(lines.lines, lines.first)
            )
        )
        column.addWidget(self.area, 1)
        row = QHBoxLayout()
        row.addStretch(1)
        self.close_button = Button("Close", self, kind="next")
        self.close_button.setDefault(True)
        self.close_button.clicked.connect(self.accept)
        row.addWidget(self.close_button)
        column.addLayout(row)
        room = parent.window().size()
        self.resize(min(room.width() - step * 4, step * 110), min(room.height() - step * 4, step * 60))
        self._go(lines.wanted - lines.first if lines.wanted else 0, marked=bool(lines.wanted))

    def _go(self, at: int, *, marked: bool) -> None:
        block = self.area.document().findBlockByNumber(at)
        cursor = QTextCursor(block)
        self.area.setTextCursor(cursor)
        if marked:
            band = QTextEdit.ExtraSelection()
            form = QTextCharFormat()
            form.setBackground(QColor(tones_of(self).band))
            form.setProperty(QTextCharFormat.Property.FullWidthSelection, True)
            band.format = form
            band.cursor = cursor
            self.area.setExtraSelections([band])

    def showEvent(self, event: QShowEvent) -> None:
        """The line stands in the middle once the sheet has its size."""
        super().showEvent(event)
        self.area.centerCursor()
