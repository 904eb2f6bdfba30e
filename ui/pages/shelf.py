"""Shelf: what is in the intake folders, what each piece is, and the chosen one byte by byte."""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QStandardPaths, Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QFileDialog,
    QHBoxLayout,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from catalogue.shapes.changes import Changes
from ui import tasks, text
from ui.look import unit
from ui.models.piece_table import PieceTable
from ui.pages.page import PageWidget
from ui.session import Open, Session
from ui.widgets.basics import Button, Entry, Tick, Words
from ui.widgets.compare_bar import CompareBar, Held
from ui.widgets.comparison_sheet import ComparisonSheet
from ui.widgets.kind_pick import KindPick
from ui.widgets.piece_list import PieceList
from ui.widgets.piece_sheet import PieceSheet
from ui.widgets.recorded_facts import RecordedFacts
from ui.widgets.welcome import Welcome

if TYPE_CHECKING:
    from catalogue.shapes.shelf import ShelfState
    from catalogue.tasks.context import Context


FIRST_IDS = 128
"""Pieces that are asked for first: more than a screen shows."""
INDEXED = Changes(pieces=True, vouching=True)
DEMO = Changes(pieces=True, families=True, vouching=True, media=True)


class Shelf(PageWidget):
    """The page of that name."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        step = unit(self)
        self.folders: tuple[str, ...] = ()
        self._total = -1
        self._searched = ""
        self._keep = -1
        self._then: Open | None = None
        self.search = Entry(self)
        self.search.setClearButtonEnabled(True)
        self.search.setPlaceholderText("Search: words, vendor:device, a hash or its beginning")
        self.search.setAccessibleName("Search the shelf")
        self.search.setAccessibleDescription("Ctrl F comes here. Down goes to the list.")
        self.search.textChanged.connect(self._search)
        QShortcut(QKeySequence("Ctrl+F"), self, self._to_search)
        down = QShortcut(QKeySequence(Qt.Key.Key_Down), self.search, self._to_list)
        down.setContext(Qt.ShortcutContext.WidgetShortcut)
        self.only_new = Tick("Only what is new", self)
        self.only_new.toggled.connect(self._search)
        self.add = Button("Add a folder", self, keys="Ctrl+O")
        self.add.clicked.connect(self.choose_folder)
        self.again = Button("Index again", self, keys="Ctrl+I")
        self.again.clicked.connect(self.index_again)
        self.recorded = Button("What is recorded", self, keys="Ctrl+R")
        self.recorded.clicked.connect(self.show_recorded)
        self.kinds = KindPick(self)
        self.kinds.picked.connect(self._search)
        self._news = Words("", self, soft=True)
        self.table = PieceTable(self, session.ages.word_for)
        session.ages.changed.connect(self._ages_known)
        self._state: ShelfState | None = None
        self.table.wanted.connect(self._fetch)
        self.list = PieceList(self.table, self)
        self.sheet = PieceSheet(session, self)
        self.list.picked.connect(self._picked)
        self.bar = CompareBar(self)
        self.bar.wanted.connect(self._compare)
        self.sheet.read.connect(self.bar.show_piece)
        self.differences = ComparisonSheet(session, self)
        self.differences.left.connect(self._leave_differences)
        own = QWidget(self)
        below = QVBoxLayout(own)
        below.setContentsMargins(0, 0, 0, 0)
        below.setSpacing(0)
        below.addWidget(self.sheet, 1)
        below.addWidget(self.bar)
        self._right = QStackedWidget(self)
        self._right.addWidget(own)
        self._right.addWidget(self.differences)
        top = QHBoxLayout()
        top.setSpacing(step)
        top.addWidget(self.search, 1)
        top.addWidget(self.add)
        top.addWidget(self.again)
        top.addWidget(self.recorded)
        self._split = QSplitter(Qt.Orientation.Horizontal, self)
        self._split.setChildrenCollapsible(False)
        self._split.setHandleWidth(step)
        self._split.addWidget(self.list)
        self._split.addWidget(self._right)
        self._split.setStretchFactor(0, 5)
        self._split.setStretchFactor(1, 4)
        self._split.setSizes([780, 560])
        full = QWidget(self)
        column = QVBoxLayout(full)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(step)
        column.addLayout(top)
        narrowing = QHBoxLayout()
        narrowing.setSpacing(step * 2)
        narrowing.addWidget(self.kinds)
        narrowing.addWidget(self.only_new)
        narrowing.addWidget(self._news, 1)
        column.addLayout(narrowing)
        column.addWidget(self._split, 1)
        self.welcome = Welcome(_demo_folder(), self)
        self.welcome.add_wanted.connect(self.choose_folder)
        self.welcome.demo_wanted.connect(self.run_demo)
        self.welcome.other_folder_wanted.connect(self._other_demo_folder)
        blank = QWidget(self)
        self._stack = QStackedWidget(self)
        for one in (blank, self.welcome, full):
            self._stack.addWidget(one)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(step * 2, step * 2, step * 2, step)
        outer.addWidget(self._stack)
        session.job_ended.connect(self._job_ended)
        session.job_began.connect(self._job_began)

    def refresh(self, changes: Changes) -> None:
        """Look at the shelf again when pieces, families or vouching changed."""
        if changes.pieces or changes.families or changes.vouching:
            self._look()
            self.sheet.look_again()

    def open(self, wish: Open) -> None:
        """Search for words, or show one piece at one byte."""
        if wish.search:
            self._stack.setCurrentIndex(2)
            self.only_new.setChecked(False)
            self.kinds.pick("")
            self.search.setText(wish.search)
        if wish.piece:
            self._stack.setCurrentIndex(2)
            self._right.setCurrentIndex(0)
            self.sheet.show_piece(wish.piece, wish.offset)

    def start(self) -> None:
        """Look at the shelf for the first time."""
        self._look()

    def show_recorded(self) -> RecordedFacts:
        """Show what people recorded, to be handed out, brought in and taken back."""
        dialog = RecordedFacts(self.session, self)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.open()
        return dialog

    def choose_folder(self) -> None:
        """Ask for a folder and index it."""
        folder = QFileDialog.getExistingDirectory(self, "A folder of downloads to index")
        if folder:
            self.index([folder])

    def index_again(self) -> None:
        """Index all intake folders again."""
        if not self.folders:
            self.session.say("note", "There is no intake folder yet: add one first.")
            return
        self.index(self.folders)

    def take_paths(self, paths: Sequence[str]) -> None:
        """Index what was dropped."""
        self.index(paths)

    def index(self, paths: Sequence[str]) -> None:
        """Index paths in a process of its own."""
        names = ", ".join(Path(one).name or one for one in paths[:3]) + (" and more" if len(paths) > 3 else "")
        whole = [str(Path(one).absolute()) for one in paths]
        self.session.run(f"Indexing {text.plain(names, 60)}", ["index", "--json", *whole], self._indexed, INDEXED)

    def run_demo(self, folder: str) -> None:
        """Run the demo in a process of its own."""
        self.session.run("Making the demo", ["demo", "--json", folder], self._demo_made, DEMO)

    def _indexed(self, answer: dict[str, Any], code: int) -> None:
        parts = [f"{answer.get(key, 0):,} {word}" for key, word in
                 (("new", "new"), ("changed", "changed"), ("unchanged", "unchanged"), ("gone", "gone"))]  # fmt: skip
        unreadable = answer.get("unreadable") or []
        said = f"Indexed {text.count(answer.get('files', 0), 'file')}: {', '.join(parts)}."
        if unreadable:
            first = unreadable[0]
            said += f" {len(unreadable):,} could not be read; the first is {first.get('place')}: {first.get('why')}"
        self.session.say("caution" if unreadable else "good", said)

    def _demo_made(self, answer: Any, code: int) -> None:  # noqa: ANN401
        if code == 0:
            self.session.say("good", "The demo is made. Its pieces are here; go to Kits with Ctrl 2 to prove one.")
        else:
            self.session.say("caution", "The demo was made, but not all of it came out as intended.")

    def _look(self) -> None:
        context = self.session.context
        self.session.lane("search").ask(lambda stopper: tasks.shelf_state(context), self._looked, self._failed)

    def _looked(self, state: ShelfState) -> None:
        self._total = state.pieces
        self.folders = state.folders
        self.kinds.show_kinds(state.kinds)
        self.again.setEnabled(bool(self.folders) and self.session.job is None)
        self._tell(state)
        self._stack.setCurrentIndex(2 if state.pieces or self.search.text() else 1)
        self._search()

    def _ages_known(self) -> None:
        self.table.ages_changed()
        if self._state is not None:
            self._tell(self._state)

    def _tell(self, state: ShelfState) -> None:
        self._state = state
        old = self.session.ages.counted()
        folders = ", ".join(text.plain(one, 80) for one in state.folders[:3])
        more = f" and {len(state.folders) - 3} more" if len(state.folders) > 3 else ""
        self._news.say(
            f"{text.begun(text.count(state.pieces, 'piece'))} from {text.count(len(state.folders), 'intake folder')}"
            + (f" ({folders}{more})" if folders else "")
            + f"; {text.count(state.new, 'piece is', 'pieces are')} new since the time before."
            + (f" Old by what the families know: {old}." if old else "")
        )
        self.told.emit(
            f"{text.count(state.pieces, 'piece')}, {state.new:,} new" if state.pieces else "nothing indexed yet"
        )

    def _search(self) -> None:
        """Ask for the pieces that are seen first, and for all of them when those are here."""
        query, only_new, kind, context = self._asked_for()
        self.session.lane("search").ask(
            lambda stopper: tasks.shelf_ids(
                context, query, only_new=only_new, kind=kind, most=FIRST_IDS, stopper=stopper
            ),
            lambda ids: self._first_found(query, ids),
            self._failed,
            instead_of="search",
        )

    def _asked_for(self) -> tuple[str, bool, str, Context]:
        return self.search.text(), self.only_new.isChecked(), self.kinds.kind, self.session.context

    def _first_found(self, query: str, ids: array[int]) -> None:
        self._found(query, ids)
        if len(ids) < FIRST_IDS:
            return
        query, only_new, kind, context = self._asked_for()
        self.session.lane("search").ask(
            lambda stopper: tasks.shelf_ids(context, query, only_new=only_new, kind=kind, stopper=stopper),
            self._all_found,
            self._failed,
            instead_of="search",
        )

    def _all_found(self, ids: array[int]) -> None:
        self.table.extend_ids(ids)
        self.list.setAccessibleDescription(text.count(len(ids), "piece"))
        if self._keep >= 0:
            self.list.selectRow(min(self._keep, len(ids) - 1))
            self._keep = -1

    def _found(self, query: str, ids: array[int]) -> None:
        same = query == self._searched
        keep = self.list.currentIndex().row() if same else -1
        self._searched = query
        self.table.show_ids(ids)
        self._keep = keep if keep >= len(ids) else -1
        if 0 <= keep < len(ids):
            self.list.selectRow(keep)
        self.list.setAccessibleDescription(text.count(len(ids), "piece"))
        if self.sheet.detail is None and not self.sheet.waiting:
            nothing = "Nothing on the shelf answers to that. Fewer words, or the beginning of a hash, may."
            self.sheet.clear(nothing if query and not ids else "")

    def _picked(self, sha256: str) -> None:
        self._right.setCurrentIndex(0)
        self.sheet.show_piece(sha256)

    def _compare(self, held: Held, shown: Held) -> None:
        self._right.setCurrentIndex(1)
        self.differences.compare(held.sha256, held.title, shown.sha256, shown.title)

    def _leave_differences(self) -> None:
        self._right.setCurrentIndex(0)
        self.list.setFocus()

    def _fetch(self, page: int) -> None:
        number, ids, context = self.table.round, self.table.page_ids(page), self.session.context

        def failed(sentence: str) -> None:
            self.table.lose_page(number, page)
            self.session.trouble(sentence)

        self.session.lane("rows").ask(
            lambda stopper: tasks.shelf_rows(context, ids),
            lambda rows: self.table.take_page(number, page, rows),
            failed,
        )

    def _failed(self, sentence: str) -> None:
        self.told.emit("the catalogue does not answer")
        self.session.trouble(sentence)
        if self._total < 0:
            self._stack.setCurrentIndex(1)

    def _to_search(self) -> None:
        self.search.setFocus()
        self.search.selectAll()

    def _to_list(self) -> None:
        if self.table.rowCount():
            self.list.setFocus()
            if not self.list.selectionModel().hasSelection():
                self.list.selectRow(0)

    def _job_began(self, what: str) -> None:
        for one in (self.add, self.again, self.welcome.add, self.welcome.demo):
            one.setEnabled(False)

    def _job_ended(self) -> None:
        for one in (self.add, self.welcome.add, self.welcome.demo):
            one.setEnabled(True)
        self.again.setEnabled(bool(self.folders))

    def _other_demo_folder(self) -> None:
        folder = QFileDialog.getExistingDirectory(self, "A folder to make the demo in")
        if folder:
            self.welcome.use_folder(Path(folder) / "kitproof-demo")


def _demo_folder() -> Path:
    place = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
    return Path(place or Path.home()) / "kitproof-demo"
