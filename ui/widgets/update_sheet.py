"""What a new text of an accepted family changes, in values and in kits, before a person accepts it."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QHBoxLayout, QVBoxLayout, QWidget

from catalogue.shapes.results import FamilyUpdate
from ui import text
from ui.look import unit
from ui.models.said_rows import SaidRow
from ui.widgets.basics import Button, Words
from ui.widgets.said_list import SaidList

MOST_ROWS = 1_000
READY = {"ready": "good", "not-ready": "stop"}


class UpdateSheet(QDialog):
    """`accepted` once the person accepts the new text."""

    def __init__(self, title: str, update: FamilyUpdate, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle("What this text changes")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        step = unit(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(step * 3, step * 2, step * 3, step * 2)
        column.setSpacing(step)
        column.addWidget(Words(f"{text.plain(title, 80)}: what this text changes", self, factor=1.25, bold=True))
        kits = text.count(len({one.route for one in update.kits}), "route")
        words = (
            f"Against the text that was accepted before (SHA-256 {text.short_hash(update.before)}): "
            f"{text.count(len(update.changes), 'value')}, and kits of {kits}."
        )
        column.addWidget(Words(words, self, soft=True))
        self.list = SaidList("What this text changes", self)
        self.list.show_rows(_rows(update))
        column.addWidget(self.list, 1)
        row = QHBoxLayout()
        row.setSpacing(step)
        row.addStretch(1)
        leave = Button("Leave it", self)
        leave.clicked.connect(self.reject)
        self.do = Button("Accept this text", self, keys="Ctrl+Return", kind="next")
        self.do.clicked.connect(self.accept)
        row.addWidget(leave)
        row.addWidget(self.do)
        column.addLayout(row)
        room = parent.window().size()
        self.resize(min(room.width() - step * 4, step * 110), min(room.height() - step * 4, step * 80))
        self.list.setFocus()


def _rows(update: FamilyUpdate) -> list[SaidRow]:
    rows = []
    for number, one in enumerate(update.kits[:MOST_ROWS]):
        title = f"{text.begun(text.name_of(one.route))}, {text.name_of(one.what)}: {text.plain(one.now, 200)}"
        mark = READY.get(one.now, "caution") if one.what == "verdict" else "caution"
        rows.append(SaidRow(f"k{number}", title, f"{text.plain(one.was, 300)} before", mark))
    for number, target in enumerate(update.written):
        rows.append(SaidRow(f"w{number}", f"A kit written by the text before lies on {text.plain(target, 200)}",
                            "write it out anew where it is still to be used", "caution"))  # fmt: skip
    for number, each in enumerate(update.changes[:MOST_ROWS]):
        below = f"{text.plain(each.was, 300)} before" if each.was else "not there before"
        now = text.plain(each.now, 200) if each.now else "gone"
        rows.append(SaidRow(f"v{number}", f"{text.plain(each.path, 120)}: {now}", f"{below}; line {each.line}"))
    return rows or [SaidRow("none", "Nothing that it says differs, and no kit comes out otherwise")]
