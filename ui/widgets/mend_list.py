"""What would make the kit ready: any one of these, each in sentences with what to press."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QApplication, QHBoxLayout, QVBoxLayout, QWidget

from catalogue.shapes.mending import Change, ChangeKind, Mending, Proposal
from ui import text
from ui.look import unit
from ui.widgets.basics import Button, Said, Words, wipe

TITLE = "What would make it ready"
ACTIONS = {
    ChangeKind.VOUCH: "Record a source",
    ChangeKind.FETCH: "Copy what to look for",
    ChangeKind.SUPPLY: "Copy what to look for",
    ChangeKind.HOST: "Tell of the host",
    ChangeKind.SETTLE: "Accept the family file",
    ChangeKind.UNPIN: "Unpin",
    ChangeKind.BENCH: "Tell of another bench",
    ChangeKind.ROUTE: "Take this route",
    ChangeKind.PIN: "Pin it",
    ChangeKind.WORD: "Give your word",
}
"""What the button of a change says; one without a button is done elsewhere."""
ANY_ONE = "Any one of these, the safest first. Each was judged as if it were done, and no part of it is enough."
COPIED = (ChangeKind.FETCH, ChangeKind.SUPPLY)


class MendList(QWidget):
    """Shows what was found; `wanted` carries the change that a person wants to make."""

    wanted = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(unit(self) // 2)
        self.setAccessibleName(TITLE)
        self.hide()

    def show_nothing(self) -> None:
        """There is nothing to mend."""
        wipe(self)
        self.hide()

    def show_looking(self) -> None:
        """It is being worked out."""
        self._begin("Working out the smallest changes; each is judged as if it were made.")

    def show_trouble(self, sentence: str) -> None:
        """It could not be worked out."""
        self._begin(text.plain(sentence))

    def show_found(self, found: Mending) -> None:
        """Show what was found."""
        self._begin(ANY_ONE if found.proposals else "No change that is known here makes it ready.")
        for number, one in enumerate(found.proposals, 1):
            self._column.addWidget(self._proposal(number, one))
        for stuck in found.stuck:
            self._column.addWidget(Said("stop", text.plain(stuck), self))
        if not found.all_tried:
            self._column.addWidget(Words("Not all changes were tried: there are too many.", self, soft=True))

    def first_button(self) -> QWidget | None:
        """The first thing to press."""
        return self.findChild(Button)

    def _begin(self, words: str) -> None:
        wipe(self)
        self._column.addWidget(Words(TITLE, self, factor=1.15, bold=True))
        self._column.addWidget(Words(words, self, soft=True))
        self.show()

    def _proposal(self, number: int, one: Proposal) -> QWidget:
        step = unit(self)
        row = QWidget(self)
        line = QHBoxLayout(row)
        line.setContentsMargins(0, step // 2, 0, step // 2)
        line.setSpacing(step * 2)
        name = Words(str(number), row, bold=True)
        name.setMinimumWidth(step * 2)
        line.addWidget(name, 0, Qt.AlignmentFlag.AlignTop)
        column = QVBoxLayout()
        column.setSpacing(step // 2)
        for at, change in enumerate(one.changes):
            column.addLayout(self._change(row, change, first=at == 0))
        line.addLayout(column, 1)
        row.setAccessibleName(f"Way {number}: " + " And: ".join(text.plain(change.text) for change in one.changes))
        return row

    def _change(self, row: QWidget, change: Change, *, first: bool) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setSpacing(unit(self) * 2)
        said = text.short_digests(text.plain(change.text))
        words = Words(said if first else f"And: {said}", row)
        words.setToolTip(text.tip(change.text))
        line.addWidget(words, 1, Qt.AlignmentFlag.AlignTop)
        action = _action(change)
        if action:
            button = Button(action, row, kind="small")
            button.setAccessibleName(f"{action}: {text.plain(change.text)}")
            button.clicked.connect(self._pressed(change, button))
            line.addWidget(button, 0, Qt.AlignmentFlag.AlignTop)
        return line

    def _pressed(self, change: Change, button: Button) -> Callable[[], None]:
        def copy() -> None:
            QApplication.clipboard().setText(copied(change))
            button.setText("Copied")

        return copy if change.kind in COPIED else lambda: self.wanted.emit(change)


def _action(change: Change) -> str:
    if change.kind is ChangeKind.BENCH and change.route is not None:
        return ACTIONS[ChangeKind.ROUTE]
    return ACTIONS.get(change.kind, "")


def copied(change: Change) -> str:
    """What is missing, a line each, for a search or a letter to the maker."""
    lines = [text.plain(change.text.partition(":")[0], 400)]
    lines += [f"{what}: {text.plain(which, 400)}" for what, which in change.wanted if not what.startswith("as ")]
    return "\n".join(lines)
