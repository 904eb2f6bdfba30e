"""What a draft read out of a folder: each line of the file with the place it comes from, whose bytes can be opened."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from ui import text
from ui.look import unit
from ui.models.said_rows import SaidRow
from ui.widgets.basics import Button, Words
from ui.widgets.said_list import SaidList

MOST_SAID = 6


class DraftRead(QWidget):
    """`bytes_wanted` carries a piece and an offset, None where the whole piece is meant; `index_wanted` the folder."""

    bytes_wanted = Signal(str, object)
    index_wanted = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lines: dict[str, Mapping[str, Any]] = {}
        self._folder = ""
        step = unit(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(step * 2, step, step * 2, step)
        column.setSpacing(step)
        self.about = Words("", self, soft=True)
        column.addWidget(self.about)
        self.list = SaidList("Lines that were read, with their places", self)
        self.list.picked.connect(self._picked)
        column.addWidget(self.list, 1)
        row = QHBoxLayout()
        row.setSpacing(step)
        self.chosen = Words("", self)
        row.addWidget(self.chosen, 1)
        self.show_bytes = Button("Show its bytes", self)
        self.show_bytes.clicked.connect(self._open)
        self.show_bytes.setEnabled(False)
        self.index = Button("Put the folder on the Shelf", self)
        self.index.setToolTip("Indexes the folder, so that its bytes can be shown and kits be made of it")
        self.index.clicked.connect(lambda: self.index_wanted.emit(self._folder))
        row.addWidget(self.index)
        row.addWidget(self.show_bytes)
        column.addLayout(row)

    def show_draft(self, draft: Mapping[str, Any], folder: str = "") -> None:
        """Show the lines of a draft, as our own command prints it; `folder` is "" for one of indexed pieces."""
        inferred, pieces, said = draft["inferred"], int(draft["pieces"]), draft["said"]
        tables = _tables(str(draft["text"]))
        self._folder = folder
        self.index.setVisible(bool(folder))
        self._lines = {str(one["line"]): one for one in inferred}
        told = [f"{text.count(len(inferred), 'line')} read from {text.count(pieces, 'piece')}. Choose one."]
        told += [text.plain(one, 300) for one in said[:MOST_SAID]]
        self.about.say("\n".join(told))
        rows = []
        for key, one in self._lines.items():
            where = ", ".join(part for part in (tables.get(int(key), ""), f"from {one['from']}") if part)
            rows.append(SaidRow(key, text.plain(str(one["text"]), 300), text.plain(where, 400)))
        self.list.show_rows(rows)
        self._picked("")

    def _picked(self, key: str) -> None:
        one = self._lines.get(key)
        self.show_bytes.setEnabled(bool(one and one.get("piece")))
        self.chosen.say(f"Line {key}: {one['text']}\nfrom {one['from']}" if one else "")

    def _open(self) -> None:
        one = self._lines.get(self.list.key)
        if one and one.get("piece"):
            self.bytes_wanted.emit(str(one["piece"]), one.get("offset"))


def _tables(document: str) -> dict[int, str]:
    """By line of a draft the table it stands in, such as role.firmware; a draft's values never begin with a bracket."""
    found: dict[int, str] = {}
    table = ""
    for number, line in enumerate(document.splitlines(), 1):
        if line.startswith("["):
            table = line.split("#")[0].strip().strip("[]")
        found[number] = table
    return found
