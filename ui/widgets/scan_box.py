"""The scan box, always there: a scanner types into it and ends with Return, or a person pastes."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtGui import QGuiApplication, QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QWidget

from catalogue.errors import BadCall
from ui import tasks
from ui.widgets.basics import Entry

if TYPE_CHECKING:
    from catalogue.shapes.results import FamilyMatch
    from catalogue.tasks.context import Context


HASH = re.compile(r"[0-9a-fA-F]{8,64}")
MOST = 65_536


@dataclass(frozen=True, slots=True)
class Meant:
    """What a scanned text meant: families, a piece (a hash or a path), or words to search for."""

    text: str
    families: tuple[FamilyMatch, ...] = ()
    piece: str = ""
    search: str = ""
    why: str = ""


def meaning(context: Context, scanned: str) -> Meant:
    """Work out what `scanned` means: a path, a hash or its beginning, a card as it shows itself, else words."""
    said = scanned[:MOST].strip()
    if len(said) < 4096 and "\n" not in said and ("/" in said or "\\" in said) and Path(said).is_file():
        return Meant(said, piece=str(Path(said).absolute()), why="Read as a file; it need not be on the shelf.")
    if HASH.fullmatch(said):
        found = tasks.shelf_ids(context, said.lower())
        rows = tasks.shelf_rows(context, found[:1]) if len(found) == 1 else []
        return Meant(
            said, piece=rows[0].sha256 if rows else "", search=said.lower(), why="Read as the beginning of a hash."
        )
    try:
        families = tasks.find_family(context, said)
    except BadCall:
        return Meant(said, search=" ".join(said.split())[:200], why="Read as words to search for.")
    if families:
        first = families[0]
        more = f" and {len(families) - 1} more" if len(families) > 1 else ""
        return Meant(said, tuple(families), why=f"Read as a card that shows itself: {first.why}{more}.")
    ids = re.findall(r"(?i)\b([0-9a-f]{4}:[0-9a-f]{4})\b", said)
    return Meant(
        said,
        search=ids[-1] if ids else said[:200],
        why="No family answers to that card; searched the shelf for its ID.",
    )


class ScanBox(QWidget):
    """The box; `scanned` carries what was entered."""

    scanned = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.edit = Pasted(self)
        self.edit.setPlaceholderText("Scan or paste: hash, PCI line, hardware ID, words   (Ctrl B)")
        self.edit.setAccessibleName("Scan box")
        self.edit.setAccessibleDescription("Ctrl B comes here. Scan or paste, then Return opens what it means.")
        self.edit.setMaxLength(MOST)
        self.edit.returnPressed.connect(self._entered)
        QShortcut(QKeySequence("Ctrl+B"), self, self._come)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.edit)

    def _entered(self) -> None:
        said = self.edit.whole_text().strip()
        if said:
            self.scanned.emit(said)
            self.edit.selectAll()

    def _come(self) -> None:
        self.edit.setFocus()
        self.edit.selectAll()


class Pasted(Entry):
    """A line that remembers the lines of what was pasted (a dump has many) as long as it is not edited."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._whole = ""
        self._flat = ""

    def whole_text(self) -> str:
        """What was entered, with its line ends where it was pasted whole."""
        return self._whole if self._whole and self.text() == self._flat else self.text()

    def paste_text(self, said: str) -> None:
        """Take a text of several lines."""
        self._whole = said[:MOST]
        self._flat = " ".join(self._whole.split())
        self.setText(self._flat)
        self._flat = self.text()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Pasting several lines keeps them."""
        pasted = QGuiApplication.clipboard().text() if event.matches(QKeySequence.StandardKey.Paste) else ""
        if "\n" in pasted.strip():
            self.paste_text(pasted)
            return
        super().keyPressEvent(event)
