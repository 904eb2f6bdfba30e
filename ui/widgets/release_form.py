"""A release told of by a person: typed in, or taken from what a maker's notes mention."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TypeVar

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QFileDialog,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)
from shiboken6 import isValid

from catalogue.shapes.releases import AddedRelease, Mention, NewRelease
from catalogue.shapes.results import FamilyInfo
from ui import tasks, text
from ui.look import unit
from ui.models.said_rows import SaidRow
from ui.session import Session
from ui.widgets.basics import Button, Entry, Said, Sheet, Words
from ui.widgets.dialog_foot import put_foot
from ui.widgets.said_list import SaidList
from ui.widgets.say_so import NAME_KEY

T = TypeVar("T")
ABOUT = (
    "It is written into the family file {file}, which is unsettled then until you accept it again. What notes mention "
    "is only offered: you say which version is a release of which role."
)


class ReleaseForm(QDialog):
    """`added` carries the AddedRelease once it is in the family file."""

    added = Signal(object)

    def __init__(self, session: Session, family: FamilyInfo, parent: QWidget) -> None:
        super().__init__(parent)
        self._session = session
        self._family = family
        self._source, self._at = "", ""
        self._mentions: dict[str, Mention] = {}
        step = unit(self)
        title = f"A release of {text.plain(family.title, 80)}"
        self.setWindowTitle(title)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        column = QVBoxLayout(self)
        column.setContentsMargins(step * 3, step * 2, step * 3, step * 2)
        column.setSpacing(step)
        column.addWidget(Words(title, self, factor=1.25, bold=True))
        column.addWidget(Words(ABOUT.format(file=text.short_place(family.file)), self, soft=True))
        self.wrong = Said("stop", "", self)
        self.wrong.hide()
        column.addWidget(self.wrong)
        halves = QHBoxLayout()
        halves.setSpacing(step)
        halves.addWidget(self._typed(), 1)
        halves.addWidget(self._notes(), 1)
        column.addLayout(halves, 1)
        self.first, self.do = put_foot(self, column, "Write it into the file", steps_high=84)
        self.do.clicked.connect(self._save)
        self._changed()
        self.name.setFocus()

    def _typed(self) -> QWidget:
        step = unit(self)
        sheet = Sheet(self)
        rows = QWidget(sheet)
        grid = QGridLayout(rows)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(step * 2)
        grid.setVerticalSpacing(step // 2)
        grid.setColumnStretch(1, 1)

        def asked(label: str, hint: str) -> Entry:
            entry = Entry(rows)
            entry.setAccessibleName(label)
            entry.setPlaceholderText(hint)
            entry.setMaxLength(200)
            entry.textChanged.connect(self._changed)
            words = Words(label, rows, soft=True)
            words.setBuddy(entry)
            at = grid.rowCount()
            grid.addWidget(words, at, 0)
            grid.addWidget(entry, at, 1)
            return entry

        self.name = asked("Its name", "as the maker calls it")
        self.day = asked("Published on", "2026-05-20")
        self.versions = {role: asked(f"Version of {text.name_of(role)}", "not in it") for role in self._family.roles}
        self.as_of = asked("Known as of", "leave it as it is")
        self.by = asked("Your name", "it is kept with the release")
        self.by.setText(str(self._session.settings.value(NAME_KEY, "")))
        grid.setRowStretch(grid.rowCount(), 1)
        area = QScrollArea(sheet)
        area.setWidgetResizable(True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setAccessibleName("The release")
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setWidget(rows)
        sheet.column.addWidget(area, 1)
        return sheet

    def _notes(self) -> QWidget:
        step = unit(self)
        sheet = Sheet(self)
        sheet.column.setContentsMargins(1, step, 1, step)
        head = QHBoxLayout()
        head.setContentsMargins(step * 2, 0, step * 2, 0)
        self._notes_title = Words("A maker's notes, as a text file", sheet, soft=True)
        self.read = Button("Read notes", sheet, kind="small")
        self.read.clicked.connect(self._choose)
        head.addWidget(self._notes_title, 1)
        head.addWidget(self.read)
        sheet.column.addLayout(head)
        self.list = SaidList("Versions that the notes mention", sheet)
        self.list.picked.connect(self._stand_on)
        sheet.column.addWidget(self.list, 1)
        below = QVBoxLayout()
        below.setContentsMargins(step * 2, 0, step * 2, 0)
        below.setSpacing(step // 2)
        self.line = Words("", sheet)
        below.addWidget(self.line)
        take = QHBoxLayout()
        self.role = QComboBox(sheet)
        self.role.setAccessibleName("The role it is a version of")
        self.role.setMinimumHeight(step * 4)
        for role in self._family.roles:
            self.role.addItem(text.name_of(role), role)
        self.take = Button("It is a version of this role", sheet, kind="small")
        self.take.clicked.connect(self._take)
        take.addWidget(self.role, 1)
        take.addWidget(self.take)
        below.addLayout(take)
        sheet.column.addLayout(below)
        self._stand_on("")
        return sheet

    def _choose(self) -> None:
        where, _ = QFileDialog.getOpenFileName(self, "A maker's notes", "", "Texts (*.txt *.TXT);;All files (*)")
        if where:
            file = Path(where)
            self._session.lane("hosts").ask(
                lambda stopper: tasks.notes(file), self._here(lambda found: self._offered(file, found)), self._say_wrong
            )

    def _offered(self, file: Path, found: list[Mention]) -> None:
        self.wrong.hide()
        self._source = file.name
        self._mentions = {str(at): one for at, one in enumerate(found)}
        count = text.count(len(found), "version")
        self._notes_title.say(f"{text.plain(file.name, 80)} mentions {count}")
        self.list.show_rows(
            [
                SaidRow(
                    key,
                    text.plain(one.version, 60) + (f", near {text.plain(one.day, 30)}" if one.day else ", no day near"),
                    f"{text.offset(one.offset)}, line {one.line}: {text.plain(one.text, 120)}",
                )
                for key, one in self._mentions.items()
            ]
        )
        self._stand_on(self.list.key)
        if found:
            self.list.setFocus()

    def _stand_on(self, key: str) -> None:
        one = self._mentions.get(key)
        self.take.setEnabled(one is not None)
        self.role.setEnabled(one is not None)
        if one is None:
            self.line.say("Choose a version in the list, and say which role it is of." if self._mentions else "")
            return
        day = f" Day at {text.offset(one.day_offset)}: {text.plain(one.day, 30)}." if one.day else ""
        self.line.say(f"At {text.offset(one.offset)}, line {one.line}: {text.plain(one.text, 300)}.{day}")

    def _take(self) -> None:
        one = self._mentions.get(self.list.key)
        if one is None:
            return
        self.versions[str(self.role.currentData())].setText(text.plain(one.version, 200))
        if not self.name.text().strip():
            self.name.setText(text.plain(one.version, 200))
        if not self.day.text().strip():
            self.day.setText(text.plain(one.day, 40))
        self._at = f", offset {text.offset(one.offset)}"
        self._changed()

    def release(self) -> NewRelease | None:
        """What the form says now; None where something is missing."""
        day = _day(self.day.text())
        versions = {role: one.text().strip() for role, one in self.versions.items() if one.text().strip()}
        if self._first() or day is None:
            return None
        source = f"{self._source}{self._at}" if self._source and self._at else ""
        return NewRelease(
            self.name.text().strip(),
            day,
            versions,
            source=source,
            by=self.by.text().strip(),
            as_of=_day(self.as_of.text()),
        )

    def _first(self) -> str:
        if not self.name.text().strip():
            return "Give the release the name its maker gives it."
        for entry, needed in ((self.day, True), (self.as_of, False)):
            said = entry.text().strip()
            if (said or needed) and _day(said) is None:
                if not said:
                    return "Say on which day it was published."
                return f"{text.plain(said, 40)} is no day such as 2026-05-20: {entry.accessibleName()}."
        if not any(one.text().strip() for one in self.versions.values()):
            return "Give the version of at least one role."
        return "" if self.by.text().strip() else "Give your name: it is kept with the release."

    def _changed(self, *_: object) -> None:
        if hasattr(self, "do"):
            first = self._first()
            self.do.setEnabled(not first)
            self.first.say(first)

    def _save(self) -> None:
        new = self.release()
        if new is None:
            return
        self._session.settings.setValue(NAME_KEY, new.by)
        self.do.setEnabled(False)
        context, family = self._session.context, self._family.id
        self._session.lane("hosts").ask(
            lambda stopper: tasks.add_release(context, family, new), self._here(self._saved), self._say_wrong
        )

    def _saved(self, done: AddedRelease) -> None:
        if done.problems:
            lines = [f"line {one.line}: {text.plain(one.text, 300)}" for one in done.problems]
            self._say_wrong("\n".join(["Nothing was written; with this release the file would be wrong.", *lines]))
            return
        self.added.emit(done)
        self.accept()

    def _say_wrong(self, sentence: str) -> None:
        if isValid(self):
            self.wrong.say("stop", sentence)
            self.wrong.show()
            self._changed()

    def _here(self, then: Callable[[T], None]) -> Callable[[T], None]:
        """`then`, but for an answer that comes when the form is gone."""
        return lambda answer: then(answer) if isValid(self) else None


def _day(said: str) -> date | None:
    try:
        return date.fromisoformat(said.strip())
    except ValueError:
        return None
