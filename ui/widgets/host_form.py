"""The form of a host file: a name, and what is known of the bench host and of the destination host."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TypeVar

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QDialog, QFrame, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget
from shiboken6 import isValid

from catalogue.shapes.host_form import HostFacts, SavedFile
from ui import tasks, text
from ui.look import unit
from ui.session import Session
from ui.widgets.basics import Entry, Said, Words
from ui.widgets.dialog_foot import put_foot
from ui.widgets.held_files import HeldFiles
from ui.widgets.machine_form import MachineForm

T = TypeVar("T")
ABOUT = (
    "Kits are judged for these machines. What you leave at not known is said to be unknown beside the verdict; it is "
    "never guessed. The machine's own set-up screen, its system, or its maker's papers tell these facts."
)
BESIDE = 100
"""Units of the text's size that the two machines need to stand side by side."""


class HostForm(QDialog):
    """`kept` carries the facts as they are kept."""

    kept = Signal(object)

    def __init__(self, session: Session, facts: HostFacts, parent: QWidget) -> None:
        super().__init__(parent)
        self._session = session
        self._facts = facts
        step = unit(self)
        title = "Edit a host" if facts.file else "A new host"
        self.setWindowTitle(title)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        column = QVBoxLayout(self)
        column.setContentsMargins(step * 3, step * 2, step * 3, step * 2)
        column.setSpacing(step)
        column.addWidget(Words(title, self, factor=1.25, bold=True))
        column.addWidget(Words(ABOUT, self, soft=True))
        head = QHBoxLayout()
        head.setSpacing(step * 2)
        self.name = self._entry(head, "Its name", "Rack nine", 3)
        self.as_of = self._entry(head, "Known as of", "2026-05-02, or empty", 1)
        column.addLayout(head)
        self.wrong = Said("stop", "", self)
        self.wrong.hide()
        column.addWidget(self.wrong)
        self.bench = MachineForm("the bench host", "It runs the utility.", tasks.cpu_names(), self._look_at, self)
        self.destination = MachineForm(
            "the destination host", "The card will serve in it.", tasks.cpu_names(), self._look_at, self
        )
        inner = QWidget(self)
        self._beside = QBoxLayout(QBoxLayout.Direction.LeftToRight, inner)
        self._beside.setContentsMargins(0, 0, 0, 0)
        self._beside.setSpacing(step)
        self._beside.addWidget(self.bench, 1)
        self._beside.addWidget(self.destination, 1)
        area = QScrollArea(self)
        area.setWidgetResizable(True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setAccessibleName("Facts of both machines")
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setWidget(inner)
        column.addWidget(area, 1)
        self.first, self.do = put_foot(self, column, "Keep this host", steps_high=110)
        self.do.clicked.connect(self._save)
        self._show(facts)
        for one in (self.name.textChanged, self.as_of.textChanged, self.bench.changed, self.destination.changed):
            one.connect(self._changed)
        self.name.setFocus()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put the machines one below the other where there is no room beside."""
        super().resizeEvent(event)
        narrow = self.width() < unit(self) * BESIDE
        self._beside.setDirection(QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight)

    @property
    def facts(self) -> HostFacts:
        """What the form says now."""
        return replace(
            self._facts,
            name=self.name.text().strip(),
            as_of=self._day(),
            bench=self.bench.facts,
            destination=self.destination.facts,
            problems=(),
        )

    def _entry(self, row: QHBoxLayout, name: str, hint: str, stretch: int) -> Entry:
        column = QVBoxLayout()
        column.setSpacing(1)
        label, entry = Words(name, self, soft=True), Entry(self)
        entry.setAccessibleName(name)
        entry.setPlaceholderText(hint)
        entry.setMaxLength(200)
        label.setBuddy(entry)
        column.addWidget(label)
        column.addWidget(entry)
        row.addLayout(column, stretch)
        return entry

    def _show(self, facts: HostFacts) -> None:
        self.name.setText(facts.name)
        self.as_of.setText(facts.as_of.isoformat() if facts.as_of else "")
        self.bench.show_facts(facts.bench)
        self.destination.show_facts(facts.destination)
        self._say_wrong(facts)
        self._changed()

    def _day(self) -> date | None:
        try:
            return date.fromisoformat(self.as_of.text().strip())
        except ValueError:
            return None

    def _changed(self, *_: object) -> None:
        first = self._first()
        self.do.setEnabled(not first)
        self.first.say(first or (f"Kept in {self._facts.file}" if self._facts.file else ""))

    def _first(self) -> str:
        """What must be done before the host can be kept; "" where nothing must."""
        day = self.as_of.text().strip()
        if not self._facts.editable:
            return "Mend the file by hand first."
        if not self.name.text().strip():
            return "Give it a name to choose it by."
        if day and self._day() is None:
            return f"{text.plain(day, 40)} is no day such as 2026-05-02."
        trouble = self.bench.trouble or self.destination.trouble
        return f"Take a file out first. {text.begun(trouble)}" if trouble else ""

    def _say_wrong(self, facts: HostFacts) -> None:
        lines = [f"line {one.line}: {text.plain(one.text, 400)}" for one in facts.problems]
        if lines:
            what = "The file has an error" if len(lines) == 1 else "The file has errors"
            more = "" if facts.editable else "\nIt is no TOML, so this form would write over it: mend it by hand."
            self.wrong.say("stop", "\n".join([f"{what}. {facts.file}", *lines]) + more)
        self.wrong.setVisible(bool(lines))

    def _here(self, then: Callable[[T], None]) -> Callable[[T], None]:
        """`then`, but for an answer that comes when the form is gone."""
        return lambda answer: then(answer) if isValid(self) else None

    def _look_at(self, held: HeldFiles, file: Path, esrt: bool) -> None:
        def seen(answer: SavedFile) -> None:
            held.show_held(answer)
            self._changed()

        self._session.lane("hosts").ask(
            lambda stopper: tasks.host_file(file, esrt=esrt), self._here(seen), self._session.trouble
        )

    def _save(self) -> None:
        told = self.facts
        self.do.setEnabled(False)
        self._session.lane("hosts").ask(
            lambda stopper: tasks.save_host(told), self._here(self._saved), self._here(self._not_saved)
        )

    def _saved(self, facts: HostFacts) -> None:
        if facts.problems:
            self._say_wrong(replace(facts, file=""))
            self._changed()
            return
        self.kept.emit(facts)
        self.accept()

    def _not_saved(self, sentence: str) -> None:
        self.wrong.say("stop", sentence)
        self.wrong.show()
        self._changed()
