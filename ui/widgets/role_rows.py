"""One row a role: the piece chosen, its version, fit, vouching and age side by side; below it, what else there is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from catalogue.shapes.kit import Kit, Other, Pin, RoleChoice
from catalogue.shapes.piece import Vouch
from ui import text
from ui.look import tones_of, unit
from ui.tasks import Named
from ui.widgets.basics import Button, Said, Words, wipe

MOST_OTHERS = 40
CAPTIONS = ("Role", "Chosen piece", "Version", "Fit", "Vouched for", "Age", "")
LEAST_ROOM = 99
"""Steps (half a line's height) that a row with all its answers side by side takes."""
PARTS = (7, 14, 4, 2, 3, 2, 0)
LEAST_PARTS = (10, 20, 9, 8, 12, 12, 15)
"""Steps that each column takes at least, so that the columns of all rows stand below one another."""


class RoleRow(QFrame):
    """One role."""

    piece_wanted = Signal(str)
    pin_wanted = Signal(str, str)
    unpin_wanted = Signal(str)
    why_wanted = Signal(str, str)

    def __init__(
        self, choice: RoleChoice, named: Mapping[str, Named], pin: Pin | None, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.choice = choice
        self._named = named
        step = unit(self)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, step // 2 + 2, 0, step // 2 + 2)
        outer.setSpacing(step // 2)
        self._grid = QGridLayout()
        outer.addLayout(self._grid)
        role = QVBoxLayout()
        role.setSpacing(1)
        role.addWidget(Words(text.begun(text.name_of(choice.role)), self, bold=True))
        need = "needed" if choice.needed else "may be left out"
        role.addWidget(Words(need + ("; written to the card" if choice.written else ""), self, soft=True, factor=0.9))
        role.addStretch(1)
        self._grid.addLayout(role, 0, 0)
        self._grid.addLayout(self._pieces(pin), 0, 1)
        version = choice.version or ("not read" if choice.pieces else "none")
        self._version = Words("", self, soft=choice.version is None)
        told = QWidget(self)
        lines = QVBoxLayout(told)
        lines.setContentsMargins(0, 0, 0, 0)
        lines.setSpacing(1)
        lines.addWidget(self._version)
        if choice.version and choice.version_source:
            lines.addWidget(Words(text.plain(choice.version_source, 80), told, soft=True, factor=0.9))
        answers = (choice.fit, choice.vouch, choice.age)
        self._answers = tuple((Said(word, word, self), word) for word in answers)
        self._cells: tuple[QWidget, ...] = (told, *(said for said, _ in self._answers))
        self._said_version = text.plain(version, 80)
        for line in _vouched(choice.vouched_by[:1]):
            outer.addWidget(Words(line, self, soft=True, factor=0.9))
        self._others = QWidget(self)
        self._others.setLayout(QVBoxLayout())
        self._others.layout().setContentsMargins(step * 3, 0, 0, step // 2)  # type: ignore[union-attr]
        self._others.hide()
        self._more = Button(_others_words(len(choice.others), False), self)
        self._more.setEnabled(bool(choice.others) or len(choice.vouched_by) > 1)
        self._more.clicked.connect(self._open_others)
        self.lay(narrow=False)
        outer.addWidget(self._others)
        what = named[choice.pieces[0]].title if choice.pieces and choice.pieces[0] in named else "nothing"
        self.setAccessibleName(
            f"{text.name_of(choice.role)}: {what}, version {choice.version or 'unknown'}, fit {choice.fit}, "
            f"vouched {choice.vouch}, age {choice.age}"
        )

    def lay(self, *, narrow: bool) -> None:
        """Lay the answers beside the piece, or where there is no room for that below it, each with its caption."""
        for one in (*self._cells, self._more):
            self._grid.removeWidget(one)
        self._version.say(f"version {self._said_version}" if narrow else self._said_version)
        for (said, word), caption in zip(self._answers, ("fit ", "vouched for: ", "age "), strict=True):
            said.say(word, caption + word if narrow else word)
        for number, cell in enumerate(self._cells):
            at = (1 + number // 2, number % 2) if narrow else (0, 2 + number)
            self._grid.addWidget(cell, *at, _TOP)
        self._grid.addWidget(self._more, *((3, 1) if narrow else (0, 6)), _TOP | Qt.AlignmentFlag.AlignRight)
        _shape(self._grid, unit(self), narrow=narrow)

    def _pieces(self, pin: Pin | None) -> QVBoxLayout:
        step = unit(self)
        column = QVBoxLayout()
        column.setSpacing(1)
        if not self.choice.pieces:
            mark, words = (
                ("left", "Left out") if self.choice.left_out or not self.choice.needed else ("stop", "Nothing chosen")
            )
            column.addWidget(Said(mark, words, self))
        for number, sha256 in enumerate(self.choice.pieces):
            if number:
                column.addSpacing(step)
            named = self._named.get(sha256, Named(text.short_hash(sha256)))
            line = QHBoxLayout()
            line.setSpacing(step)
            line.addWidget(Words(named.title, self), 1, _TOP)
            see = Button("See", self, kind="small")
            see.setAccessibleName(f"See {named.title} on the Shelf")
            see.clicked.connect(lambda _=False, one=sha256: self.piece_wanted.emit(one))
            line.addWidget(see, 0, _TOP)
            column.addLayout(line)
            for said in _below(named):
                column.addWidget(said)
                said.setParent(self)
        if pin is not None:
            line = QHBoxLayout()
            line.addWidget(Words(f"Pinned: {text.plain(pin.reason, 200)}", self, factor=0.9), 1)
            loose = Button("Unpin", self, kind="small")
            loose.setAccessibleName(f"Unpin {text.name_of(self.choice.role)}")
            loose.clicked.connect(lambda: self.unpin_wanted.emit(self.choice.role))
            line.addWidget(loose, 0, _TOP)
            column.addLayout(line)
        column.addStretch(1)
        return column

    def _open_others(self) -> None:
        layout = self._others.layout()
        assert isinstance(layout, QVBoxLayout)
        opening = self._others.isHidden()
        self._more.setText(_others_words(len(self.choice.others), opening))
        if opening and not layout.count():
            for line in _vouched(self.choice.vouched_by[1:]):
                layout.addWidget(Words(f"Also {line}", self._others, soft=True, factor=0.9))
            if self.choice.others:
                layout.addWidget(
                    Words("What else could take its place, and why it was not chosen", self._others, soft=True)
                )
            for other in self.choice.others[:MOST_OTHERS]:
                layout.addWidget(self._other(other))
            if len(self.choice.others) > MOST_OTHERS:
                layout.addWidget(Words(f"and {len(self.choice.others) - MOST_OTHERS} more", self._others, soft=True))
        self._others.setVisible(opening)

    def _other(self, other: Other) -> QWidget:
        step = unit(self)
        named = self._named.get(other.piece, Named("Piece " + text.short_hash(other.piece)))
        row = QWidget(self._others)
        line = QHBoxLayout(row)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(step * 2)
        what = QVBoxLayout()
        what.setSpacing(1)
        what.addWidget(Words(named.title, row))
        for said in _below(named):
            what.addWidget(said)
        line.addLayout(what, 5)
        why_not = QVBoxLayout()
        why_not.addWidget(Said("no", "not chosen: " + ", ".join(text.name_of(one) for one in other.why), row))
        why_not.addStretch(1)
        line.addLayout(why_not, 4)
        see = Button("See", row, kind="small")
        see.setAccessibleName(f"See {named.title} on the Shelf")
        see.clicked.connect(lambda: self.piece_wanted.emit(other.piece))
        why = Button("Why not", row, kind="small")
        why.setAccessibleName(f"Why not {named.title} for {text.name_of(self.choice.role)}")
        why.clicked.connect(lambda: self.why_wanted.emit(self.choice.role, other.piece))
        pin = Button("Pin it", row, kind="small")
        pin.setAccessibleName(f"Pin {named.title} for {text.name_of(self.choice.role)}")
        pin.clicked.connect(lambda: self.pin_wanted.emit(self.choice.role, other.piece))
        for button in (why, see, pin):
            line.addWidget(button, 0, _TOP)
        return row

    def paintEvent(self, event: QPaintEvent) -> None:
        """A line below each."""
        painter = QPainter(self)
        painter.setPen(QColor(tones_of(self).line))
        painter.drawLine(0, self.height() - 1, self.width(), self.height() - 1)
        painter.end()


_TOP = Qt.AlignmentFlag.AlignTop


def _vouched(vouches: Sequence[Vouch]) -> list[str]:
    """One line for each that vouches: the rung, by whom, at which place and line, since when."""
    return [
        f"{one.rung}: "
        + ", ".join(
            part
            for part in (
                text.plain(one.by, 200),
                text.short_place(one.place, 2) if one.place else "",
                f"since {one.since[:10]}" if one.since else "",
            )
            if part
        )
        for one in vouches
    ]


def _below(named: Named) -> list[Words]:
    """What stands under a piece's name."""
    made = [Words(named.what, soft=True, factor=0.9)] if named.what else []
    if named.place:
        made.append(Words("in " + text.short_place(text.around(named.place), 2), soft=True, factor=0.9))
        made[-1].setToolTip(text.tip(named.place))
    return made


def _others_words(number: int, opened: bool) -> str:
    if not number:
        return "No others"
    return "Hide the others" if opened else text.count(number, "other")


def _shape(grid: QGridLayout, step: int, *, narrow: bool) -> None:
    """Give a grid the columns of a row."""
    grid.setContentsMargins(0, 0, 0, 0)
    grid.setHorizontalSpacing(step * 2)
    for column, part in enumerate(PARTS):
        used = not narrow or column < 2
        grid.setColumnStretch(column, part if used else 0)
        least = LEAST_PARTS[column] * step
        grid.setColumnMinimumWidth(column, least if used else 0)


class RoleRows(QWidget):
    """All roles of a kit under the captions of their columns."""

    piece_wanted = Signal(str)
    pin_wanted = Signal(str, str)
    unpin_wanted = Signal(str)
    why_wanted = Signal(str, str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(0)
        self._rows: list[RoleRow] = []
        self._head: QWidget | None = None
        self._narrow = False

    def fit(self, room: int) -> None:
        """Lay the rows for so much room from left to right."""
        narrow = room < unit(self) * LEAST_ROOM
        if narrow != self._narrow:
            self._narrow = narrow
            self._lay()

    def _lay(self) -> None:
        if self._head is not None:
            self._head.setVisible(not self._narrow)
        for row in self._rows:
            row.lay(narrow=self._narrow)

    def show_kit(self, kit: Kit, named: Mapping[str, Named]) -> None:
        """Show another kit's roles."""
        wipe(self)
        self._rows.clear()
        head = QWidget(self)
        grid = QGridLayout()
        _shape(grid, unit(self), narrow=False)
        head.setLayout(grid)
        for column, caption in enumerate(CAPTIONS):
            grid.addWidget(Words(caption, head, soft=True, factor=0.9), 0, column)
        self._column.addWidget(head)
        self._head = head
        pins = {pin.role: pin for pin in kit.pins}
        for choice in kit.roles:
            row = RoleRow(choice, named, pins.get(choice.role), self)
            row.piece_wanted.connect(self.piece_wanted)
            row.pin_wanted.connect(self.pin_wanted)
            row.unpin_wanted.connect(self.unpin_wanted)
            row.why_wanted.connect(self.why_wanted)
            self._column.addWidget(row)
            self._rows.append(row)
        self._lay()
