"""The manual of one rule, beside the finding that it made."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QFrame, QGridLayout, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from catalogue.shapes.manual import RuleManual
from ui import text
from ui.look import unit
from ui.widgets.basics import Button, Words


class RuleSheet(QDialog):
    """Says what a rule catches, what it leaves alone, and by what it judges."""

    def __init__(self, manual: RuleManual, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle(f"About the rule {manual.code}")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        step = unit(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(step * 3, step * 2, step * 3, step * 2)
        column.setSpacing(step)
        column.addWidget(Words(manual.title, self, factor=1.25, bold=True))
        column.addWidget(Words(f"{manual.code}: {manual.level}", self, soft=True))
        inner = QWidget(self)
        rows = QGridLayout(inner)
        rows.setContentsMargins(0, 0, 0, 0)
        rows.setHorizontalSpacing(step * 2)
        rows.setVerticalSpacing(step)
        rows.setColumnStretch(1, 1)
        said = [("It catches", manual.catches), ("", manual.more), ("Fine", manual.fine), *manual.cases]
        said += [("Looks at", manual.looks_at), ("What to do", manual.remedy), ("Source", f"{manual.source}.")]
        for label, words in said:
            if words:
                at = rows.rowCount()
                top = Qt.AlignmentFlag.AlignTop
                name = Words(label, inner, soft=True)
                name.setMinimumWidth(step * 14)
                rows.addWidget(name, at, 0, top)
                rows.addWidget(Words(text.begun(words), inner), at, 1, top)
        rows.setRowStretch(rows.rowCount(), 1)
        area = QScrollArea(self)
        area.setWidgetResizable(True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setAccessibleName(f"The manual of the rule {manual.code}")
        area.setWidget(inner)
        column.addWidget(area, 1)
        foot = QHBoxLayout()
        foot.addStretch(1)
        self.close_button = Button("Close", self, kind="next")
        self.close_button.clicked.connect(self.accept)
        self.close_button.setDefault(True)
        foot.addWidget(self.close_button)
        column.addLayout(foot)
        room = parent.window().size()
        self.resize(min(room.width() - step * 4, step * 84), min(room.height() - step * 4, step * 58))
        self.close_button.setFocus()
