"""Which kind of piece the Shelf lists: every kind, or one, each with how many there are."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, Signal
from PySide6.QtWidgets import QComboBox, QWidget

from ui.look import unit
from ui.text import kind_words

EVERY = "Every kind"


class KindPick(QComboBox):
    """`picked` carries the kind, "" for every one."""

    picked = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Only one kind of piece")
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(18)
        self.setMaxVisibleItems(24)
        self.setMinimumHeight(unit(self) * 4)
        self.addItem(EVERY, "")
        self.activated.connect(lambda at: self.picked.emit(self.kind))

    @property
    def kind(self) -> str:
        """The kind that is picked, "" for every one."""
        return str(self.currentData() or "")

    def show_kinds(self, kinds: Sequence[tuple[str, int]]) -> None:
        """Offer these kinds; the one that was picked stays, even where nothing of it is left."""
        kept = self.kind
        offered = list(kinds)
        if kept and kept not in dict(offered):
            offered.append((kept, 0))
        rows = [(EVERY, ""), *((f"{kind_words(kind)}, {count:,}", kind) for kind, count in offered)]
        if rows != [(self.itemText(at), self.itemData(at)) for at in range(self.count())]:
            self.clear()
            for words, kind in rows:
                self.addItem(words, kind)
        self.setCurrentIndex(next(at for at, (_, kind) in enumerate(rows) if kind == kept))

    def pick(self, kind: str) -> None:
        """Pick a kind that is offered; every one where it is not."""
        self.setCurrentIndex(max(0, self.findData(kind)))

    def changeEvent(self, event: QEvent) -> None:
        """Grow with the text."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.ApplicationFontChange):
            self.setMinimumHeight(unit(self) * 4)
