"""The check of a draft: its laws, whether its folder comes out ready, whether a wrong piece comes out stopped."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QSplitter, QVBoxLayout, QWidget

from catalogue.shapes.results import Accepted
from ui import text
from ui.look import unit
from ui.models.said_rows import SaidRow
from ui.widgets.basics import Button, Entry, Said, Words
from ui.widgets.said_list import SaidList
from ui.widgets.strips import Gauge
from ui.widgets.text_area import TextArea

MOST_ROWS = 300
ASKS = "asks: "
"""How the loader begins what it says of an open question."""
UNCHECKED = (
    "Not checked yet. What it was drafted from must come out ready, and a piece that is wrong must come out stopped."
)


class DraftProved(QWidget):
    """`check_wanted` and `keep_wanted` (a file name) ask for it; `text_changed` carries what a person wrote by hand."""

    check_wanted = Signal()
    stop_wanted = Signal()
    keep_wanted = Signal(str)
    text_changed = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lines: dict[str, int] = {}
        self._text = ""
        self._offered = ""
        self._sound = False
        step = unit(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(step * 2, step, step * 2, step)
        column.setSpacing(step)
        self.verdict = Said("caution", UNCHECKED, self, bold=True)
        column.addWidget(self.verdict)
        self.gauge = Gauge(self)
        self.gauge.hide()
        column.addWidget(self.gauge)
        split = QSplitter(Qt.Orientation.Vertical, self)
        split.setChildrenCollapsible(False)
        split.setHandleWidth(step)
        self.list = SaidList("What was checked", split)
        self.list.picked.connect(self._picked)
        below = QWidget(split)
        inner = QVBoxLayout(below)
        inner.setContentsMargins(0, 0, 0, 0)
        inner.setSpacing(step // 2)
        head = QHBoxLayout()
        head.addWidget(Words("The family file as it stands; mend it here where no question asks", below, soft=True), 1)
        self.take = Button("Take over what is written", below, kind="small")
        self.take.clicked.connect(lambda: self.text_changed.emit(self.written))
        head.addWidget(self.take)
        inner.addLayout(head)
        self.file = TextArea("The family file as it stands", "", below)
        inner.addWidget(self.file, 1)
        split.addWidget(self.list)
        split.addWidget(below)
        split.setSizes([step * 24, step * 24])
        column.addWidget(split, 1)
        row = QHBoxLayout()
        row.setSpacing(step)
        label = Words("Kept as", self, soft=True)
        label.setWordWrap(False)
        self.name = Entry(self)
        self.name.setAccessibleName("File name to keep it under, without .toml")
        self.name.setMaxLength(59)
        row.addWidget(label)
        row.addWidget(self.name, 1)
        self.check = Button("Check it", self, keys="Ctrl+Return", kind="next")
        self.check.clicked.connect(self.check_wanted)
        self.stop = Button("Stop", self)
        self.stop.clicked.connect(self.stop_wanted)
        self.stop.hide()
        self.keep = Button("Accept and keep it", self, keys="Ctrl+Return", kind="next")
        self.keep.clicked.connect(lambda: self.keep_wanted.emit(self.name.text().strip()))
        for one in (self.stop, self.check, self.keep):
            row.addWidget(one)
        column.addLayout(row)
        self.name.textChanged.connect(lambda _: self._look())
        self.file.textChanged.connect(self._look)
        self._look()

    @property
    def written(self) -> str:
        """What stands in the file's text area."""
        return self.file.toPlainText()

    def show_text(self, said: str, id_: str, open_questions: int) -> None:
        """Show the file; what was checked of another text counts no more."""
        if said != self._text:
            self._text = said
            self._sound = False
            self.file.setPlainText(said)
            self.list.show_rows([])
            left = f" {text.begun(text.count(open_questions, 'question is', 'questions are'))} still open."
            self.verdict.say("caution", UNCHECKED + (left if open_questions else ""))
        if id_ and self.name.text() in ("", self._offered):
            self.name.setText(id_)
        self._offered = id_
        self._look()

    def begin(self) -> None:
        """It is being checked."""
        self.verdict.say("note", "Checking")
        self.gauge.show_at(0, None)
        self._busy(True)

    def show_at(self, done: int, total: int | None, what: str) -> None:
        """Show where the check is."""
        self.gauge.show_at(done, total)
        self.verdict.say("note", f"Checking: {text.plain(what, 200)}")

    def fail(self, sentence: str) -> None:
        """It could not be checked."""
        self._busy(False)
        self.verdict.say("stop", sentence)

    def show_checked(self, done: Accepted) -> None:
        """Show what was proved and what was not."""
        self._busy(False)
        rows, self._lines = [], {}
        still = [one for one in done.problems if one.text.startswith(ASKS)]
        if still:
            self._lines["asks"] = still[0].line
            title = f"{text.begun(text.count(len(still), 'question is', 'questions are'))} still open"
            rows.append(SaidRow("asks", title, "to be answered under Asked", "stop"))
        for number, one in enumerate([one for one in done.problems if one not in still][:MOST_ROWS]):
            self._lines[f"p{number}"] = one.line
            title = text.begun(text.plain(one.text, 400))
            rows.append(SaidRow(f"p{number}", title, f"line {one.line} of the file", "stop"))
        proof = done.proof
        for route in proof.routes if proof else ():
            good = route.verdict == "ready"
            below = "every role is filled, and nothing speaks against it" if good else "; ".join(route.stops[:3])
            how = "ready" if good else "not ready"
            title = f"{text.begun(text.name_of(route.route))}: what it was drafted from comes out {how}"
            rows.append(SaidRow(f"r{route.route}", title, text.plain(below, 400), "good" if good else "stop"))
        for number, each in enumerate(proof.counters[:MOST_ROWS] if proof else ()):
            how = f"is stopped: {', '.join(each.stops)}" if each.stops else "is taken"
            title = f"{text.begun(text.plain(each.what, 80))} for {text.name_of(each.role)} {how}"
            below = f"{text.short_place(each.place)}, by {text.name_of(each.route)}"
            rows.append(SaidRow(f"c{number}", title, below, "good" if each.stops else "stop"))
        self.list.show_rows(rows)
        self._sound = not done.problems
        if self._sound:
            self.verdict.say("good", "It shows itself right. Read it once more; whoever accepts it trusts it.")
        else:
            missing = proof.missing[0] if proof and proof.missing else ""
            first = missing or (rows[0].title if still else done.problems[0].text)
            self.verdict.say("stop", f"Not yet: {text.plain(first, 400)}.")
        self._look()

    def _picked(self, key: str) -> None:
        if key in self._lines:
            self.file.go_to_line(self._lines[key])

    def _busy(self, busy: bool) -> None:
        self.gauge.setVisible(busy)
        self.stop.setVisible(busy)
        self.check.setEnabled(not busy)
        self.keep.setEnabled(not busy and self._sound)

    def _look(self) -> None:
        changed = self.file.toPlainText() != self._text
        self.take.setEnabled(changed)
        sound = self._sound and not changed
        self.keep.setVisible(sound)
        self.check.setVisible(not sound)
        self.check.setEnabled(bool(self._text) and not changed)
        self.keep.setEnabled(sound and bool(self.name.text().strip()))
