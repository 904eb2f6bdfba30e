"""Two pieces side by side: what differs, value by value and stretch by stretch, and the whole of the chosen row."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QStackedLayout, QVBoxLayout, QWidget

from ui import tasks, text
from ui.look import unit
from ui.models.difference_rows import Difference, made, rows_of, summary
from ui.models.long_rows import LongRows
from ui.session import Session
from ui.widgets.basics import Button, Words
from ui.widgets.long_list import LongList
from ui.widgets.pair_strip import NONE, PairStrip, Stretch
from ui.widgets.strips import Gauge

if TYPE_CHECKING:
    from catalogue.shapes.comparison import Comparison
    from ui.jobs import Asked, Stopper


class ComparisonSheet(QWidget):
    """Shows one comparison; `left` says that a person wants the piece's own sheet back."""

    left = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAutoFillBackground(True)
        self.setBackgroundRole(self.backgroundRole().Base)
        self._session = session
        self._asked: Asked | None = None
        self._items: list[Difference] = []
        self.done: Comparison | None = None
        step = unit(self)
        self._title = Words("What differs", self, factor=1.25, bold=True)
        self._sides = Words("", self)
        self.told = Words("", self, soft=True)
        self.rows = LongRows(self)
        self.list = LongList(self.rows, self)
        self.list.setAccessibleName("What differs between the two pieces")
        self.list.moved.connect(self._tell)
        self._foot = Words("", self)
        self._foot.setMinimumHeight(step * 9)
        self.strip = PairStrip(session, self)
        self.strip.told.connect(self._tell_byte)
        self.back = Button("Back to the piece", self, keys="Alt+Up", kind="small")
        self.back.clicked.connect(self._leave)
        self._gauge = Gauge(self)
        self._at = Words("", self, soft=True)
        self.stop = Button("Stop comparing", self, kind="small")
        self.stop.clicked.connect(self._stop)
        waiting = QWidget(self)
        wait = QVBoxLayout(waiting)
        wait.setSpacing(step)
        wait.addWidget(self._gauge)
        wait.addWidget(self._at)
        wait.addWidget(self.stop)
        wait.addStretch(1)
        self._stack = QStackedLayout()
        self._stack.addWidget(waiting)
        self._stack.addWidget(self.list)
        head = QHBoxLayout()
        head.addWidget(self._title, 1)
        head.addWidget(self.back)
        column = QVBoxLayout(self)
        column.setContentsMargins(step * 2, step, step, step // 2)
        column.setSpacing(step)
        column.addLayout(head)
        column.addWidget(self._sides)
        column.addWidget(self.told)
        column.addLayout(self._stack, 1)
        column.addWidget(self.strip)
        column.addWidget(self._foot)

    def compare(self, a: str, a_title: str, b: str, b_title: str) -> None:
        """Compare the pieces `a` and `b`, in a thread of their own."""
        self.done = None
        self._items = []
        self.rows.show_items((), made)
        self._sides.say(f"A: {a_title}, {text.short_hash(a)}\nB: {b_title}, {text.short_hash(b)}")
        self.told.say("Comparing the two.")
        self._foot.say("")
        self.strip.show_pieces("", 0, "", 0)
        self._gauge.show_at(0, None)
        self._at.say("")
        self.stop.setEnabled(True)
        self.stop.setVisible(True)
        self._stack.setCurrentIndex(0)
        context = self._session.context

        def work(stopper: Stopper) -> Comparison:
            return tasks.compare(context, a, b, stopper)

        self._asked = self._session.lane("compare").ask(
            work, self._show, self._failed, told=self._progress, instead_of="compare"
        )
        self.stop.setFocus()

    def _progress(self, done: int, total: int | None, what: str) -> None:
        self._gauge.show_at(done, total)
        self._at.say(what)

    def _show(self, done: Comparison) -> None:
        self._asked = None
        self.done = done
        self._items = rows_of(done)
        self.strip.show_pieces(done.a.what, done.a.size, done.b.what, done.b.size)
        self.rows.show_items(self._items, made)
        self.told.say(summary(done))
        self._stack.setCurrentIndex(1)
        if self._items:
            self.list.selectRow(0)
            self.list.setFocus()
        else:
            self.back.setFocus()

    def _failed(self, sentence: str) -> None:
        self._asked = None
        self.told.say(sentence)
        self._gauge.show_at(0, None)
        self._at.say("")
        self.stop.setVisible(False)
        self.back.setFocus()

    def _stop(self) -> None:
        if self._asked is not None:
            self._asked.stopper.stop()
        self.stop.setEnabled(False)

    def _leave(self) -> None:
        if self._asked is not None:
            self._asked.forget()
            self._asked = None
        self.left.emit()

    def _tell(self, row: int) -> None:
        if 0 <= row < len(self._items):
            one = self._items[row]
            self._foot.say(f"{one.name}\nA: {one.a}\nB: {one.b}")
            self.strip.show_stretches(
                Stretch(*one.a_bytes) if one.a_bytes else NONE, Stretch(*one.b_bytes) if one.b_bytes else NONE
            )

    def _tell_byte(self, said: str) -> None:
        row = self.list.currentIndex().row()
        if 0 <= row < len(self._items):
            one = self._items[row]
            self._foot.say(f"{one.name}\nA: {one.a}\nB: {one.b}\n{said}.")
