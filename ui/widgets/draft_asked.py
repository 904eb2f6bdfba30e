"""The open questions of a draft, one at a time, with what its answer changes; an answer can be taken back."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from catalogue.shapes.draft import Question
from ui import text
from ui.look import unit
from ui.models.said_rows import SaidRow
from ui.widgets.basics import Button, Said, Words
from ui.widgets.question_form import QuestionForm
from ui.widgets.said_list import SaidList

DONE = "No question is open any more. Go on to check the draft."
MOST_TOLD = 4


class DraftAsked(QWidget):
    """`answered` carries the name of a question and its answer; `back_wanted` takes back the last one."""

    answered = Signal(str, object)
    back_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.questions: tuple[Question, ...] = ()
        step = unit(self)
        outer = QHBoxLayout(self)
        outer.setContentsMargins(step * 2, step, step * 2, step)
        outer.setSpacing(step * 2)
        left = QVBoxLayout()
        left.setSpacing(step)
        self.count = Words("", self, soft=True)
        left.addWidget(self.count)
        self.list = SaidList("Open questions", self)
        self.list.setMinimumWidth(step * 26)
        self.list.picked.connect(self._picked)
        left.addWidget(self.list, 1)
        self.back = Button("Take back the last answer", self, kind="small")
        self.back.clicked.connect(self.back_wanted)
        left.addWidget(self.back)
        outer.addLayout(left, 2)
        right = QWidget(self)
        column = QVBoxLayout(right)
        column.setContentsMargins(0, 0, step, 0)
        column.setSpacing(step)
        self.written = Said("good", "", right)
        self.written.hide()
        self.form = QuestionForm(right)
        self.form.answered.connect(self._answered)
        column.addWidget(self.written)
        column.addWidget(self.form)
        column.addStretch(1)
        self.area = QScrollArea(self)
        self.area.setWidgetResizable(True)
        self.area.setFrameShape(QFrame.Shape.NoFrame)
        self.area.setAccessibleName("The question, and its answer")
        self.area.setWidget(right)
        outer.addWidget(self.area, 5)

    def show_questions(self, questions: Sequence[Question], written: Sequence[str], *, can_go_back: bool) -> None:
        """Show what is still open; `written` are lines that the last answer put into the file."""
        at = next((n for n, one in enumerate(self.questions) if one.key == self.list.key), 0)
        self.questions = tuple(questions)
        self.count.say(text.count(len(questions), "question is open", "questions are open"))
        rows = [
            SaidRow(one.key, text.begun(text.name_of(one.key)), text.begun(text.plain(one.about, 200)))
            for one in questions
        ]
        self.list.show_rows(rows)
        self.back.setEnabled(can_go_back)
        told = [text.plain(one.strip(), 160) for one in written if not one.lstrip().startswith("#")]
        self.written.setVisible(bool(told) or (not questions and can_go_back))
        self.written.say("good", "\n".join(["Written:", *told[:MOST_TOLD]]) if told else DONE)
        self.form.setVisible(bool(questions))
        if questions:
            one = self.questions[min(at, len(questions) - 1)]
            self.list.stand_on(one.key, quietly=True)
            self._show(one)

    def say_wrong(self, sentence: str) -> None:
        """Say why the answer is none."""
        self.form.say_wrong(sentence)

    def _picked(self, key: str) -> None:
        one = next((one for one in self.questions if one.key == key), None)
        if one is not None:
            self.written.hide()
            self._show(one)

    def _show(self, one: Question) -> None:
        had = self.form.isAncestorOf(self.focusWidget()) if self.focusWidget() is not None else False
        self.form.show_question(one)
        self.area.verticalScrollBar().setValue(0)
        if had:
            self.form.to_form()

    def _answered(self, value: object) -> None:
        one = self.form.question
        if one is None:
            return
        if value is None and not one.leaves:
            place = next((n for n, each in enumerate(self.questions) if each.key == one.key), 0)
            after = self.questions[(place + 1) % len(self.questions)]
            self.list.stand_on(after.key)
            return
        self.answered.emit(one.key, value)
