"""What people recorded here: who said what, since when, from which bench; handed out, brought in, taken back."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QDialog, QFileDialog, QHBoxLayout, QStackedWidget, QVBoxLayout, QWidget

from catalogue.shapes.results import FactLine, FactsIn, FactsOut
from ui import tasks, text
from ui.look import unit
from ui.models.said_rows import SaidRow
from ui.session import Session
from ui.widgets.basics import Button, Said, Words
from ui.widgets.facts_brought import FactsBrought
from ui.widgets.record_source import record_source
from ui.widgets.said_list import SaidList
from ui.widgets.say_so import SaySo

TITLE = "What people recorded here"
ABOUT = (
    "Checksum lists and keys with where they came from, words, cards that ran. They vouch for pieces by the name of "
    "whoever recorded them. Another bench can have them as one plain file, and hand you its own."
)
EMPTY = "Nobody has recorded anything yet. Begin with the checksum list from a maker's page."
KIND_WORDS = {"list": "List", "key": "Key", "word": "Word", "ran": "Card that ran", "taken-back": "Taken back"}


def fact_row(fact: FactLine) -> SaidRow:
    """A fact as a row: what it is above; by whom, since when and where below."""
    where = f"at {text.plain(fact.bench, 80)}, taken in by {text.plain(fact.accepted_by, 80)}" if fact.bench else ""
    parts = (f"by {text.plain(fact.by, 80)}" if fact.by else "by nobody named", where, f"since {fact.at[:10]}")
    below = ", ".join(part for part in parts if part)
    if fact.why:
        below = text.plain(fact.why, 300)
    kind = KIND_WORDS.get(fact.kind, fact.kind)
    return SaidRow(fact.id, f"{kind}: {text.plain(fact.what, 300)}", below, "left" if fact.why else "good")


class RecordedFacts(QDialog):
    """The dialog. It stays open while facts come and go."""

    def __init__(self, session: Session, parent: QWidget) -> None:
        super().__init__(parent)
        self._session = session
        self._facts: dict[str, FactLine] = {}
        step = unit(self)
        self.setWindowTitle(TITLE)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(step * 3, step * 2, step * 3, step * 2)
        outer.setSpacing(step)
        outer.addWidget(Words(TITLE, self, factor=1.25, bold=True))
        self.told = Said("good", "", self)
        self.told.hide()
        outer.addWidget(self.told)
        self.brought = FactsBrought(session.settings, self)
        self.brought.left.connect(self._leave)
        self.brought.wanted.connect(self._take_in)
        self._stack = QStackedWidget(self)
        self._stack.addWidget(self._own())
        self._stack.addWidget(self.brought)
        outer.addWidget(self._stack, 1)
        room = parent.window().size()
        self.resize(min(room.width() - step * 4, step * 120), min(room.height() - step * 4, step * 76))
        session.changed.connect(self._changed)
        self._look()
        self.list.setFocus()

    def _own(self) -> QWidget:
        step = unit(self)
        page = QWidget(self)
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(step)
        column.addWidget(Words(ABOUT, page, soft=True))
        self.list = SaidList(TITLE, page)
        self.list.picked.connect(self._picked)
        column.addWidget(self.list, 1)
        self.more = Words("", page)
        column.addWidget(self.more)
        row = QHBoxLayout()
        row.setSpacing(step)
        self.record = Button("Record a list or key", page)
        self.record.clicked.connect(self._record)
        self.back = Button("Take it back", page)
        self.back.setEnabled(False)
        self.back.clicked.connect(self._take_back)
        self.bring = Button("Bring facts in", page)
        self.bring.clicked.connect(self._bring)
        self.hand = Button("Hand facts out", page)
        self.hand.clicked.connect(self._hand)
        close = Button("Close", page)
        close.clicked.connect(self.reject)
        for one in (self.record, self.back, self.bring, self.hand):
            row.addWidget(one)
        row.addStretch(1)
        row.addWidget(close)
        column.addLayout(row)
        return page

    def _changed(self, _changes: object) -> None:
        self._look()

    def _look(self) -> None:
        context = self._session.context
        self._session.lane("facts").ask(lambda stopper: tasks.facts(context), self._looked, self._failed)

    def _looked(self, found: list[FactLine]) -> None:
        self._facts = {one.id: one for one in found}
        self.list.show_rows([fact_row(one) for one in found])
        self.list.setAccessibleDescription(text.count(len(found), "fact"))
        self._picked(self.list.key)

    def _picked(self, key: str) -> None:
        fact = self._facts.get(key)
        self.back.setEnabled(fact is not None and fact.state == "stands")
        if fact is None:
            self.more.say("" if self._facts else EMPTY)
            return
        row = fact_row(fact)
        self.more.say(f"{row.title}. {row.below[:1].upper()}{row.below[1:]}. Fact {fact.id[:12]}.")

    def say(self, mark: str, words: str) -> None:
        """One line of news above all."""
        self.told.say(mark, words)
        self.told.show()

    def _failed(self, sentence: str) -> None:
        self.say("stop", sentence)

    # Recording and taking back

    def _record(self) -> None:
        record_source(self._session, self, self.say)

    def _take_back(self) -> None:
        fact = self._facts.get(self.list.key)
        if fact is None:
            return
        words = f"{text.plain(fact.what, 200)}. It then says nothing any more, and what only it vouched for loses that."
        form = SaySo("Take it back", words, "Take it back", self._session.settings, self, named=True,
                     asked=("Why", "What was wrong with it"), kept="It is kept beside it")  # fmt: skip
        context = self._session.context

        def given() -> None:
            by, reason = form.by.text().strip() if form.by else "", form.reason.text().strip()
            self._session.lane("write").ask(
                lambda stopper: tasks.take_back_fact(context, fact.id, reason=reason, by=by),
                self._session.hand_round,
                self._failed,
            )

        form.accepted.connect(given)
        form.open()

    # Handing out and bringing in

    def _hand(self) -> None:
        file, _kind = QFileDialog.getSaveFileName(self, "The facts file to write", "facts.txt")
        if not file:
            return
        words = (
            "All that stands here goes along, with who said it. Sign the file if you like; what is beside it is asked."
        )
        form = SaySo("Hand facts out", words, "Write the file", self._session.settings, self, named=True,
                     asked=("What this bench is called", "Others see it beside each fact"),
                     kept="It stands at the file's head")  # fmt: skip
        context = self._session.context
        self._session.lane("facts").ask(lambda stopper: tasks.bench_name(context), form.reason.setText, self._failed)

        def written() -> None:
            by, bench = form.by.text().strip() if form.by else "", form.reason.text().strip()
            self._session.lane("write").ask(
                lambda stopper: tasks.facts_out(context, Path(file), by=by, bench=bench), self._written, self._failed
            )

        form.accepted.connect(written)
        form.open()

    def _written(self, done: FactsOut) -> None:
        self.say("good", f"Wrote {text.count(done.facts, 'fact')} to {text.short_place(done.file)}.")

    def _bring(self) -> None:
        file, _kind = QFileDialog.getOpenFileName(self, "A facts file of another bench")
        if file:
            self.look_into(Path(file))

    def look_into(self, file: Path) -> None:
        """Show what a facts file would add."""
        context = self._session.context
        self._session.lane("facts").ask(lambda stopper: tasks.facts_in(context, file), self._shown, self._failed)

    def _shown(self, held: FactsIn) -> None:
        self.told.hide()
        self.brought.show_held(held)
        self._stack.setCurrentWidget(self.brought)
        self.brought.list.setFocus()

    def _take_in(self, by: str, words: bool) -> None:
        held, context = self.brought.held, self._session.context
        if held is None:
            return
        self._session.lane("write").ask(
            lambda stopper: tasks.facts_in(context, Path(held.file), by=by, accept=True, words=words),
            self._taken,
            self._failed,
        )

    def _taken(self, done: FactsIn) -> None:
        self._leave()
        laid = [one.id for one in done.families if one.state == "new" and one.file]
        family = f" Family {', '.join(laid)} is here, unsettled until you accept it on Kits." if laid else ""
        if done.taken:
            self.say("good", f"{text.begun(text.count(len(done.new), 'fact'))} taken in from {done.bench}.{family}")
        else:
            self.say("stop", "Nothing was taken in: a signature beside the file is not of its bytes.")
        self._session.hand_round(done.changes)

    def _leave(self) -> None:
        self._stack.setCurrentIndex(0)
        self.list.setFocus()
