"""What another bench's facts file would add here, what contradicts, who signed; and the way to take it in by name."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QSettings, Signal
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from catalogue.shapes.results import FactLine, FactsIn
from ui import text
from ui.look import unit
from ui.models.said_rows import SaidRow
from ui.widgets.basics import Button, Entry, Said, Tick, Words
from ui.widgets.said_list import SaidList
from ui.widgets.say_so import NAME_KEY

SIGNATURES = {
    "holds": ("good", "The signature {place} holds, by {key}, from {source}."),
    "broken": ("stop", "The signature {place} by {key} is not of this file: nothing is taken in."),
    "taken-back": ("caution", "The signature {place} is by a key that was taken back: {why}"),
    "unproved": ("caution", "The signature {place} by {key} is not relied on: {why}"),
    "no-key": ("caution", "The signature {place} was not checked: no recorded key is the one it names."),
}
FAMILIES = {
    "new": ("note", "a family that is new here; it comes in unsettled"),
    "known": ("good", "the very file that is here"),
    "differs": ("stop", "left out"),
    "broken": ("stop", "left out"),
}


class FactsBrought(QWidget):
    """`wanted` carries the name of whoever takes it in, and whether persons' words come too; `left` leaves it."""

    wanted = Signal(str, bool)
    left = Signal()

    def __init__(self, settings: QSettings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._settings = settings
        self.held: FactsIn | None = None
        step = unit(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(step)
        self.head = Words("", self, bold=True)
        column.addWidget(self.head)
        self._signed = QVBoxLayout()
        column.addLayout(self._signed)
        self._marks: list[QWidget] = []
        self.list = SaidList("What the facts file holds", self)
        self.list.picked.connect(self._picked)
        column.addWidget(self.list, 1)
        self.more = Words("", self)
        column.addWidget(self.more)
        self.words = Tick("Persons' words too: each clears a stop here", self)
        column.addWidget(self.words)
        row = QHBoxLayout()
        row.setSpacing(step)
        label = Words("Your name", self, soft=True)
        self.by = Entry(self)
        self.by.setAccessibleName("Your name")
        self.by.setPlaceholderText("You answer for it here")
        self.by.setMaxLength(200)
        self.by.setText(str(settings.value(NAME_KEY, "")))
        label.setBuddy(self.by)
        self.by.textChanged.connect(self._look)
        leave = Button("Leave it", self)
        leave.clicked.connect(self.left)
        self.do = Button("Take it in", self, kind="next")
        self.do.clicked.connect(self._done)
        row.addWidget(label)
        row.addWidget(self.by, 1)
        row.addWidget(leave)
        row.addWidget(self.do)
        column.addLayout(row)

    def show_held(self, held: FactsIn) -> None:
        """Show another file."""
        self.held = held
        self.head.say(f"From {text.plain(held.bench, 80)}, sent by {text.plain(held.sent_by, 80)}")
        for one in self._marks:
            one.setParent(None)
            one.deleteLater()
        self._marks = [Said(mark, words, self) for mark, words in _signatures(held)]
        for one in self._marks:
            self._signed.addWidget(one)
        rows = list(_rows(held))
        self._below = {row.key: f"{row.title}. {row.below}" for row in rows}
        self.list.show_rows(rows)
        self.list.setAccessibleDescription(text.count(len(rows), "line"))
        new = text.count(len(held.new), "fact is", "facts are")
        self.more.say(f"{text.begun(new)} new here, {held.known:,} known, {len(held.against):,} left out.")
        self.words.setVisible(bool(held.words))
        self.words.setChecked(False)
        self._look()

    def _picked(self, key: str) -> None:
        self.more.say(self._below.get(key, ""))

    def _look(self) -> None:
        held = self.held
        something = held is not None and bool(
            held.new or held.words or any(one.state == "new" for one in held.families)
        )
        broken = held is not None and any(one.state == "broken" for one in held.signatures)
        self.do.setEnabled(something and not broken and bool(self.by.text().strip()))

    def _done(self) -> None:
        by = self.by.text().strip()
        self._settings.setValue(NAME_KEY, by)
        self.wanted.emit(by, self.words.isChecked() and self.words.isVisibleTo(self))


def _signatures(held: FactsIn) -> Iterator[tuple[str, str]]:
    for one in held.signatures:
        mark, words = SIGNATURES[one.state]
        told = {"place": text.last_name(one.place), "key": one.key, "source": one.source, "why": one.why}
        yield mark, words.format(**{name: text.plain(value, 200) for name, value in told.items()})
    if not held.signatures:
        yield "note", "No signature lies beside it: it is worth what you know of who gave it to you."


def _rows(held: FactsIn) -> Iterator[SaidRow]:
    for against in held.against:
        yield _row(against.fact, "stop", f"Left out: {text.plain(against.why, 300)}", "against")
    for said in held.speaks_against:
        place = text.short_place(said.place)
        yield SaidRow(
            f"speaks {said.place} {said.want}", f"A list speaks against {place}",
            f"It should be {said.want}, and is {said.have}", "stop",
        )  # fmt: skip
    for family in held.families:
        mark, words = FAMILIES[family.state]
        why = f": {text.plain(family.why, 300)}" if family.why else ""
        yield SaidRow(f"family {family.id}", f"Family {text.plain(family.id, 80)}", f"It is {words}{why}", mark)
    for fact in held.new:
        yield _row(fact, "note", "New here", "new")
    for fact in held.words:
        yield _row(fact, "caution", "A person's word: it comes in only where you tick it below", "word")


def _row(fact: FactLine, mark: str, said: str, key: str) -> SaidRow:
    who = f"{text.plain(fact.by, 80) or 'nobody named'} at {text.plain(fact.bench, 80)}, {fact.at[:10]}"
    return SaidRow(f"{key} {fact.id}", text.begun(text.plain(fact.what, 300)), f"{said}. {who}", mark)
