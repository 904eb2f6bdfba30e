"""A family drafted, in four stands: what it is made from, what was read, what is asked, check and accepting."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QStackedWidget, QVBoxLayout, QWidget

from catalogue.shapes.changes import Changes
from catalogue.shapes.draft import Question
from catalogue.shapes.results import Accepted
from ui import tasks, text
from ui.jobs import Asked, Stopper
from ui.look import unit
from ui.session import Open, Session
from ui.widgets.basics import Button, Choice, Words
from ui.widgets.draft_asked import DraftAsked
from ui.widgets.draft_given import DraftGiven
from ui.widgets.draft_proved import DraftProved
from ui.widgets.draft_read import DraftRead

STANDS = ("Made from", "Read", "Asked", "Check")
GIVEN, READ, ASKED, CHECK = range(4)
MOST_BACK = 200
_ID = re.compile(r'^id = "([^"]{1,59})"', re.MULTILINE)

Answered = tuple[str, tuple[Question, ...]]


class DraftView(QWidget):
    """`left` when the person goes back to the families; `kept` carries the id of a family that was accepted."""

    left = Signal()
    kept = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.text = ""
        self._before: list[str] = []
        self._folder = ""
        self._checking: Asked | None = None
        step = unit(self)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(0)
        head = QHBoxLayout()
        head.setContentsMargins(step * 2, step, step * 2, 0)
        head.addWidget(Words("Draft a family", self, factor=1.25, bold=True), 1)
        self.leave = Button("Back to the families", self, kind="small")
        self.leave.clicked.connect(self.left)
        head.addWidget(self.leave)
        outer.addLayout(head)
        row = QHBoxLayout()
        row.setContentsMargins(step, 0, step, 0)
        row.setSpacing(0)
        self._group = QButtonGroup(self)
        self.stands: list[Choice] = []
        for number, name in enumerate(STANDS):
            one = Choice(name, self)
            one.clicked.connect(lambda _=False, at=number: self.go_to(at))
            self._group.addButton(one)
            self.stands.append(one)
            row.addWidget(one)
        row.addStretch(1)
        outer.addLayout(row)
        self._stack = QStackedWidget(self)
        self.given = DraftGiven(self)
        self.read = DraftRead(self)
        self.asked = DraftAsked(self)
        self.proved = DraftProved(self)
        for widget in (self.given, self.read, self.asked, self.proved):
            self._stack.addWidget(widget)
        outer.addWidget(self._stack, 1)
        self.given.wanted.connect(self._draft)
        self.read.bytes_wanted.connect(lambda sha, at: session.wanted.emit(Open("Shelf", piece=sha, offset=at)))
        self.read.index_wanted.connect(self._index)
        self.asked.answered.connect(self._answer)
        self.asked.back_wanted.connect(self._back)
        self.proved.check_wanted.connect(self._check)
        self.proved.stop_wanted.connect(self._stop)
        self.proved.keep_wanted.connect(self._keep)
        self.proved.text_changed.connect(self._by_hand)
        self.destroyed.connect(self.given.close_files)
        self.go_to(GIVEN)
        self._look()

    def go_to(self, at: int) -> None:
        """Show one of the four stands."""
        self.stands[at].setChecked(True)
        for number, one in enumerate(self.stands):  # Qt keeps Tab for the one that was checked when it had the focus
            one.setFocusPolicy(Qt.FocusPolicy.StrongFocus if number == at else Qt.FocusPolicy.ClickFocus)
        self._stack.setCurrentIndex(at)

    def _look(self) -> None:
        for one in self.stands[READ:]:
            one.setEnabled(bool(self.text))

    def _index(self, folder: str) -> None:
        def done(answer: Any, code: int) -> None:  # noqa: ANN401
            self._session.say("good", f"{text.count(int(answer.get('pieces', 0)), 'piece')} of the folder are indexed.")

        name = text.plain(Path(folder).name, 60)
        self._session.run(f"Indexing {name}", ["index", "--json", folder], done, Changes(pieces=True))

    def _draft(self, command: list[str]) -> None:
        self._folder = command[1] if not command[1].startswith("--") else ""
        self.given.do.setEnabled(False)
        if not self._session.run("Drafting a family", command, self._drafted, Changes(), self._not_drafted):
            self.given.do.setEnabled(True)

    def _not_drafted(self, sentence: str) -> None:
        self.given.do.setEnabled(True)
        self._session.say("stop", sentence)

    def _drafted(self, answer: Any, code: int) -> None:  # noqa: ANN401
        self.given.do.setEnabled(True)
        self._before.clear()
        self.read.show_draft(answer, self._folder)
        if not answer["pieces"]:
            self._session.say("caution", "Nothing in what was given does a job of a kit; little can be drafted.")
        self.proved.name.clear()
        self._renew(str(answer["text"]), "")
        self.go_to(READ)

    def _renew(self, said: str, before: str) -> None:
        """Take a text over: its questions are looked for, then everything shows it."""
        self._session.lane("draft").ask(
            lambda stopper: (said, tasks.draft_questions(said)),
            lambda answer: self._show(answer, before),
            self._session.trouble,
            instead_of="draft",
        )

    def _show(self, answer: Answered, before: str) -> None:
        self.text, questions = answer
        old = set(before.splitlines())
        new = [one for one in self.text.splitlines() if one.strip() and one not in old] if before else []
        self.asked.show_questions(questions, new, can_go_back=bool(self._before))
        found = _ID.search(self.text)
        self.proved.show_text(self.text, found[1] if found else "", len(questions))
        self.stands[ASKED].setText(f"Asked, {len(questions)} open" if questions else "Asked")
        self.stands[ASKED].setAccessibleName(self.stands[ASKED].text())
        self.stands[ASKED].updateGeometry()
        self._look()

    def _answer(self, key: str, value: Any) -> None:  # noqa: ANN401
        before = self.text

        def work(stopper: Stopper) -> Answered:
            made = tasks.draft_answer(before, key, value)
            return made, tasks.draft_questions(made)

        def done(answer: Answered) -> None:
            self._before = [*self._before[-MOST_BACK:], before]
            self._show(answer, before)

        self._session.lane("draft").ask(work, done, self.asked.say_wrong, instead_of="draft")

    def _back(self) -> None:
        if self._before:
            self._renew(self._before.pop(), "")

    def _by_hand(self, said: str) -> None:
        self._before = [*self._before[-MOST_BACK:], self.text]
        self._renew(said, "")

    def _check(self) -> None:
        context, said = self._session.context, self.text
        self.proved.begin()
        self._checking = self._session.lane("draft").ask(
            lambda stopper: tasks.draft_check(context, said, stopper),
            self.proved.show_checked,
            self.proved.fail,
            told=self.proved.show_at,
            instead_of="draft",
        )

    def _stop(self) -> None:
        if self._checking is not None:
            self._checking.stopper.stop()

    def _keep(self, name: str) -> None:
        context, said = self._session.context, self.text
        self.proved.begin()
        self._checking = self._session.lane("draft").ask(
            lambda stopper: tasks.draft_keep(context, said, name, stopper),
            self._kept,
            self.proved.fail,
            told=self.proved.show_at,
            instead_of="draft",
        )

    def _kept(self, answer: tuple[Accepted, Path]) -> None:
        done, file = answer
        self.proved.show_checked(done)
        if done.settled:
            words = f"{text.plain(done.id, 80)} is settled and kept in {text.plain(str(file), 300)}."
            more = "Where its folder is not on the Shelf yet, put it there to make kits of it."
            self._session.say("good", f"{words} {more}")
            self._session.hand_round(done.changes)
            self.kept.emit(done.id)
