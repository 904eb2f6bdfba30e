"""One open question of a draft: what is asked and why, what an answer changes, and the form to answer it in."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from PySide6.QtCore import QEvent, Signal
from PySide6.QtWidgets import QButtonGroup, QComboBox, QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from catalogue.shapes.draft import Question
from ui import text
from ui.look import unit
from ui.widgets.basics import Button, Choice, Entry, Said, Tick, Words, wipe
from ui.widgets.text_area import TextArea

Value = str | Mapping[str, str] | None
EFFECTS = ("learns", "saves", "destroys", "writes", "checks", "compares")
HINTS = {
    "flash": "bytes, from the card's papers", "class": "six hex digits", "date": "2026-03-01", "span": "a number",
    "version": "the text before the version", "controllers": "a number", "care": "one caution; another caution",
    "ids": "VVVV:DDDD", "other ids": "VVVV:DDDD", "after": "the name of a step", "least": "a number",
    "most": "a number",
    "allowed": "C, D", "text": "a text that the file it makes must hold", "id": "letters, digits, dots, - and _",
}  # fmt: skip
OFFERED = {"from", "to", "role", "label"}


class Pick(QComboBox):
    """One of what is offered, or something else that is typed."""

    def __init__(self, name: str, offers: tuple[str, ...], *, free: bool, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setEditable(free)
        self.setMinimumHeight(unit(self) * 4)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(16)
        self.addItems(["", *offers])
        edit = self.lineEdit()
        if edit is not None:
            edit.setAccessibleName(name)
            edit.setMaxLength(1_000)

    def changeEvent(self, event: QEvent) -> None:
        """Grow with the text."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.ApplicationFontChange):
            self.setMinimumHeight(unit(self) * 4)


class QuestionForm(QWidget):
    """`answered` carries the value; None is "I do not know"."""

    answered = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.question: Question | None = None
        self._read: Callable[[], Value] = lambda: ""
        self._first: QWidget | None = None
        step = unit(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(step)
        self.about = Words("", self, factor=1.15, bold=True)
        self.why = Words("", self, soft=True)
        self.changes = Words("", self, soft=True)
        self._form = QWidget(self)
        self._rows = QVBoxLayout(self._form)
        self._rows.setContentsMargins(0, 0, 0, 0)
        self._rows.setSpacing(step // 2)
        self.wrong = Said("stop", "", self)
        self.do = Button("Answer", self, keys="Ctrl+Return", kind="next")
        self.do.clicked.connect(lambda: self.answered.emit(self._read()))
        self.unknown = Button("I do not know", self)
        self.unknown.clicked.connect(lambda: self.answered.emit(None))
        self.leaves = Words("", self, soft=True, factor=0.9)
        row = QHBoxLayout()
        row.setSpacing(step)
        row.addWidget(self.do)
        row.addWidget(self.unknown)
        row.addWidget(self.leaves, 1)
        for one in (self.about, self.why, self._form, self.changes, self.wrong):
            column.addWidget(one)
        column.addLayout(row)
        column.addStretch(1)

    def show_question(self, question: Question) -> None:
        """Show another question, with an empty form."""
        self.question = question
        self.about.say(text.begun(question.about))
        self.why.say(f"Asked because {question.why}." if question.why else "")
        self.why.setVisible(bool(question.why))
        self.changes.say(f"An answer changes: {question.changes}.")
        self.leaves.say(
            f"If you do not know: {question.leaves}." if question.leaves
            else "If you do not know, it stays open; ask somebody who does."
        )  # fmt: skip
        self.say_wrong("")
        wipe(self._form)
        self._first = None
        self.do.setText("So it is" if question.form == "confirm" else "Answer")
        make = {"line": self._line, "choice": self._choice, "choices": self._choices, "rows": self._each_row,
                "effects": self._effects, "lines": self._lines}.get(question.form, self._confirm)  # fmt: skip
        make(question)

    def to_form(self) -> None:
        """Put the keyboard where the answer is given."""
        (self._first or self.do).setFocus()

    def say_wrong(self, sentence: str) -> None:
        """Say why an answer is none."""
        self.wrong.setVisible(bool(sentence))
        self.wrong.say("stop", sentence)

    def _add(self, widget: QWidget) -> None:
        self._rows.addWidget(widget)
        self._first = self._first or widget

    def _entry(self, name: str, hint: str, begins: str = "") -> Entry:
        entry = Entry(self._form)
        entry.setAccessibleName(name)
        entry.setPlaceholderText(hint)
        entry.setMaxLength(1_000)
        entry.setText(begins)
        return entry

    def _confirm(self, question: Question) -> None:
        self._read = lambda: ""

    def _line(self, question: Question) -> None:
        entry = self._entry("Your answer", HINTS.get(question.key.partition("-")[0], ""))
        self._add(entry)
        self._read = entry.text

    def _lines(self, question: Question) -> None:
        area = TextArea("Lines of the family file", question.how, self._form)
        area.setMinimumHeight(unit(self) * 20)
        self._add(area)
        self._read = area.toPlainText

    def _choice(self, question: Question) -> None:
        group = QButtonGroup(self._form)
        choices = [Choice(text.plain(one, 80), self._form) for one in question.offers]
        for one in choices:
            group.addButton(one)
            self._rows.addWidget(one)
        if choices:
            choices[0].setChecked(True)
            self._first = choices[0]
        self._read = lambda: next(
            (offer for offer, one in zip(question.offers, choices, strict=True) if one.isChecked()), ""
        )

    def _choices(self, question: Question) -> None:
        ticks = [Tick(text.plain(one, 80), self._form) for one in question.offers]
        for one in ticks:
            self._add(one)
        self._read = lambda: ", ".join(
            offer for offer, one in zip(question.offers, ticks, strict=True) if one.isChecked()
        )

    def _each_row(self, question: Question) -> None:
        held: dict[str, Callable[[], str]] = {}
        box = QWidget(self._form)
        grid = QGridLayout(box)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(unit(self))
        grid.setColumnStretch(1, 1)
        for number, row in enumerate(question.rows):
            begins = question.given[number] if number < len(question.given) else ""
            named = text.plain(row, 60)
            label = Words(named if question.given else text.begun(named), box, soft=True)
            label.setWordWrap(False)
            grid.addWidget(label, number, 0)
            if question.offers and (row in OFFERED or question.key.startswith("has-")):
                pick = Pick(row, question.offers, free=row not in ("from", "to", "role"), parent=box)
                pick.setCurrentText(begins)
                held[row] = pick.currentText
                grid.addWidget(pick, number, 1)
                self._first = self._first or pick
            else:
                entry = self._entry(row, HINTS.get(row, ""), begins)
                held[row] = entry.text
                grid.addWidget(entry, number, 1)
                self._first = self._first or entry
        self._rows.addWidget(box)
        self._read = lambda: {row: read() for row, read in held.items()}

    def _effects(self, question: Question) -> None:
        """A line in words, and a tick for each thing it touches and how."""
        say = self._entry("What the person at the bench is told", "what the person at the bench is told to do")
        self._add(say)
        box = QWidget(self._form)
        grid = QGridLayout(box)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setVerticalSpacing(0)
        ticks: dict[tuple[str, str], Tick] = {}
        for at, word in enumerate(EFFECTS):
            head = Words(word, box, soft=True, factor=0.9)
            head.setWordWrap(False)
            grid.addWidget(head, 0, at + 1)
        for number, thing in enumerate(question.offers):
            name = Words(text.name_of(thing), box)
            name.setWordWrap(False)
            grid.addWidget(name, number + 1, 0)
            for at, word in enumerate(EFFECTS):
                tick = Tick("", box)
                tick.setAccessibleName(f"it {word} {text.name_of(thing)}")
                ticks[(word, thing)] = tick
                grid.addWidget(tick, number + 1, at + 1)
        grid.setColumnStretch(len(EFFECTS) + 1, 1)
        self._rows.addWidget(box)
        restart = Tick("The machine restarts after it", self._form)
        full = Tick("The file it makes must not be blank", self._form)
        self._rows.addWidget(restart)
        self._rows.addWidget(full)
        held = self._entry("Text that the file it makes must hold", "a text that the file it makes must hold")
        alike = self._entry("Role whose piece the file it makes must equal", "or the role whose piece it must equal")
        self._rows.addWidget(held)
        self._rows.addWidget(alike)

        def read() -> Mapping[str, str]:
            said = {"say": say.text(), "text": held.text(), "same-as": alike.text()}
            for word in EFFECTS:
                said[word] = ", ".join(thing for thing in question.offers if ticks[(word, thing)].isChecked())
            if restart.isChecked():
                said["then"] = "restart"
            if full.isChecked():
                said["blank"] = "false"
            return {row: one for row, one in said.items() if one.strip()}

        self._read = read
