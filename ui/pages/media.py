"""Media: where a kit is written to, under which names, whether it came out the same, and what else lies there."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import QFileDialog, QSplitter, QStackedWidget, QVBoxLayout, QWidget

from catalogue.errors import NotWorkable
from catalogue.shapes.changes import Changes
from catalogue.shapes.finding import Evidence
from catalogue.shapes.from_json import NotAKit, findings_from_json
from catalogue.shapes.kit import Kit
from catalogue.shapes.results import ReadBack, WrittenKit
from ui import tasks, text
from ui.evidence import show_evidence
from ui.look import unit
from ui.models.said_rows import SaidRow
from ui.pages.page import PageWidget
from ui.session import Open, Session
from ui.volumes import Entry, Target, lying_on, target_of, volumes
from ui.widgets.basics import Button, Sheet, Words
from ui.widgets.medium_view import MediumView, Outcome
from ui.widgets.said_list import SaidList
from ui.widgets.written_list import WrittenList

LOOK_EVERY_MS = 3_000
FOLDERS_KEY = "media/folders"
MOST_FOLDERS = 5
EMPTY = "Plug a stick in, or choose a folder, to write a kit to it or to read back what lies there."


class Media(PageWidget):
    """The page of that name."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        step = unit(self)
        self.kit: Kit | None = None
        self._targets: dict[str, Target] = {}
        self._outcomes: dict[str, Outcome] = {}
        kept = session.settings.value(FOLDERS_KEY)
        self._folders = [str(one) for one in kept] if isinstance(kept, list) else []
        left = Sheet(self)
        left.column.setContentsMargins(1, step, 1, 1)
        inner = QVBoxLayout()
        inner.setContentsMargins(step, 0, step, 0)
        inner.addWidget(Words("Where to", left, soft=True))
        self.other = Button("Choose a folder", left, keys="Ctrl+D")
        self.other.clicked.connect(self._choose)
        inner.addWidget(self.other)
        left.column.addLayout(inner)
        self.list = SaidList("Volumes and folders", left)
        self.list.picked.connect(self._picked)
        left.column.addWidget(self.list, 1)
        self._empty = Words(EMPTY, self, soft=True)
        self._empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._empty.setContentsMargins(step * 8, 0, step * 8, 0)
        self.view = MediumView(self)
        self.view.write.clicked.connect(self.write_out)
        self.view.read_back.clicked.connect(self.read_back)
        self.view.to_kits.clicked.connect(lambda: session.wanted.emit(Open("Kits")))
        self.view.evidence_wanted.connect(self._show_evidence)
        self._stack = QStackedWidget(self)
        self._stack.addWidget(self._empty)
        self._stack.addWidget(self.view)
        self.written = WrittenList(session.ages, self, title="Written from this catalogue")
        right = QWidget(self)
        column = QVBoxLayout(right)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(step)
        column.addWidget(self._stack, 1)
        column.addWidget(self.written)
        split = QSplitter(Qt.Orientation.Horizontal, self)
        split.setChildrenCollapsible(False)
        split.setHandleWidth(step)
        split.addWidget(left)
        split.addWidget(right)
        split.setStretchFactor(1, 1)
        split.setSizes([step * 44, step * 140])
        outer = QVBoxLayout(self)
        outer.setContentsMargins(step * 2, step * 2, step * 2, step)
        outer.addWidget(split)
        self._timer = QTimer(self)
        self._timer.setInterval(LOOK_EVERY_MS)
        self._timer.timeout.connect(self._look)
        session.job_began.connect(self._free)
        session.job_ended.connect(self._free)
        self._look()
        self._look_at_written()

    def _show_evidence(self, evidence: Evidence, piece: str | None) -> None:
        def on_kits(what: str = "") -> None:
            self.session.wanted.emit(Open("Kits"))

        show_evidence(self.session, evidence, piece, self, on_kits, on_kits)

    def refresh(self, changes: Changes) -> None:
        """What lies there again when something was written."""
        if changes.media:
            self._look()
            self._look_at_written()
            self._look_inside()

    def open(self, wish: Open) -> None:
        """Take the kit that is to be written out."""
        if isinstance(wish.kit, Kit):
            self.kit = wish.kit
            self._show_kit()

    def showEvent(self, event: QShowEvent) -> None:
        """Look for volumes as long as the page is seen."""
        super().showEvent(event)
        self._look()
        self._timer.start()

    def hideEvent(self, event: QHideEvent) -> None:
        """No longer."""
        self._timer.stop()
        super().hideEvent(event)

    def use_folder(self, folder: str) -> None:
        """Add a folder to the targets and stand on it."""
        self._folders = [folder, *(one for one in self._folders if one != folder)][:MOST_FOLDERS]
        self.session.settings.setValue(FOLDERS_KEY, self._folders)
        self._targets[folder] = target_of(folder)
        self._list()
        self.list.stand_on(folder)

    @property
    def target(self) -> Target | None:
        """The target a person stands on."""
        return self._targets.get(self.list.key)

    def write_out(self) -> None:
        """Write the kit out in a process of its own."""
        target, kit = self.target, self.kit
        if target is None or kit is None:
            return
        path = target.path
        self._outcomes.pop(path, None)
        self._show_outcome()
        command = ["write-out", "--json", "--kit", kit.id, "--route", kit.route, kit.family, path]
        self.session.run(
            f"Writing to {text.plain(target.name, 40)}",
            command,
            lambda answer, code: self._written(path, answer, code),
            Changes(media=True),
            lambda sentence: self._take(path, Outcome("stop", sentence)),
        )

    def read_back(self) -> None:
        """Read the target back and compare."""
        target = self.target
        if target is None:
            return
        path = target.path
        self.view.waiting("Reading it back")
        self.session.lane("medium").ask(
            lambda stopper: tasks.read_back(Path(path), stopper),
            lambda done: self._read(path, done),
            lambda sentence: self._take(path, Outcome("stop", sentence)),
            told=self.view.show_at,
            instead_of="read-back",
        )

    def _written(self, path: str, answer: Any, code: int) -> None:  # noqa: ANN401
        try:
            findings = findings_from_json(answer.get("findings", []))
        except (NotAKit, AttributeError):
            self._take(path, Outcome("stop", "The answer of our own command cannot be read; read the medium back."))
            return
        files = answer.get("files") or []
        folder = Path(str(answer.get("folder") or "")).name
        if not files:
            judged = answer.get("judged") or {}
            ready = judged.get("verdict") == "ready"
            why = "" if ready else " Judged again, the kit is not ready: look at it under Kits."
            self._take(path, Outcome("stop", f"Nothing was written.{why}", findings))
        elif code == 0:
            number = text.count(len(files), "file")
            said = f"Written to {folder or path} and read back: every byte of {number} is the same."
            self._take(path, Outcome("good", said, findings))
        else:
            self._take(path, Outcome("stop", "Written, but read back it differs: do not use this medium.", findings))

    def _read(self, path: str, done: ReadBack) -> None:
        counts = {
            state: sum(one.state == state for one in done.files) for state in ("same", "differs", "missing", "stray")
        }
        said = ", ".join(f"{number:,} {state}" for state, number in counts.items() if number)
        if done.read_back == "same" and not any(one.level.value == "stop" for one in done.findings):
            words = f"Read back: every byte is the same ({said})." if done.files else "Read back: no kit lies here."
            self._take(path, Outcome("good" if done.files else "note", words, done.findings))
        else:
            odd = [f"{one.name}: {one.state}" for one in done.files if one.state != "same"]
            words = f"Read back, this medium is not as it was written ({said or 'nothing is here'}): do not use it."
            self._take(path, Outcome("stop", words, done.findings, tuple(odd)))

    def _take(self, path: str, outcome: Outcome) -> None:
        self._outcomes[path] = outcome
        self.told.emit(outcome.sentence)
        if self.target is not None and self.target.path == path:
            self._show_outcome()
        else:
            self.session.say(outcome.mark, outcome.sentence)

    def _look(self) -> None:
        folders = list(self._folders)
        self.session.lane("volumes").ask(
            lambda stopper: [*volumes(), *(target_of(one) for one in folders if Path(one).is_dir())],
            lambda targets: self._looked(targets, folders),
            self.session.trouble,
            instead_of="volumes",
        )

    def _looked(self, targets: list[Target], asked: list[str]) -> None:
        before = self.target
        kept = self._targets
        self._targets = {one.path: one for one in targets}
        for folder in self._folders:  # one chosen since this look began
            if folder in kept and folder not in asked:
                self._targets[folder] = kept[folder]
        self._list()
        now = self.target
        if before is not None and before.path not in self._targets:
            self.session.say("caution", f"{text.plain(before.name, 80)} is no longer there.")
        if not self._outcomes:
            carried = sum(one.path not in self._folders for one in targets)
            self.told.emit(text.count(carried, "volume") + " plugged in" if carried else "nothing plugged in")
        if now is None:
            self._stack.setCurrentIndex(0)
        elif now != before:
            self._show_target(now)

    def _list(self) -> None:
        self.list.show_rows(
            [
                SaidRow(
                    one.path, text.plain(one.name, 80), one.facts, "good" if one.fat and not one.read_only else "note"
                )
                for one in self._targets.values()
            ]
        )

    def _picked(self, path: str) -> None:
        target = self._targets.get(path)
        if target is not None:
            self._show_target(target)
            self._show_kit()
            self._show_outcome()
            self._look_inside()

    def _look_at_written(self) -> None:
        context = self.session.context

        def done(found: list[WrittenKit]) -> None:
            self.written.show_kits(found, self.list.key)

        self.session.lane("medium").ask(
            lambda stopper: tasks.written_kits(context), done, self.session.trouble, instead_of="written"
        )

    def _show_target(self, target: Target) -> None:
        self.written.stand_on(target.path)
        self.view.show_target(target)
        self._stack.setCurrentIndex(1)

    def _look_inside(self) -> None:
        target = self.target
        if target is None:
            return
        path = target.path

        def done(found: tuple[list[Entry], bool]) -> None:
            if self.target is not None and self.target.path == path:
                self.view.show_entries(*found)

        self.session.lane("volumes").ask(
            lambda stopper: _entries(path), done, self.view.no_entries, instead_of="inside"
        )

    def _show_kit(self) -> None:
        kit, context = self.kit, self.session.context
        self.view.show_kit(kit, None)
        self._free()
        if kit is None:
            return

        def laid(names: tasks.Laid) -> None:
            if self.kit is kit:
                self.view.show_kit(kit, names)

        self.session.lane("medium").ask(
            lambda stopper: tasks.laid(context, kit), laid, self.session.trouble, instead_of="names"
        )

    def _show_outcome(self) -> None:
        target = self.target
        self.view.show_outcome(self._outcomes.get(target.path) if target else None)

    def _free(self, _what: str = "") -> None:
        self.view.write.setEnabled(self.kit is not None and self.session.job is None)

    def _choose(self) -> None:
        folder = QFileDialog.getExistingDirectory(self, "A folder to write a kit to")
        if folder:
            self.use_folder(folder)


def _entries(path: str) -> tuple[list[Entry], bool]:
    try:
        return lying_on(path)
    except OSError as problem:
        raise NotWorkable(f"{path} cannot be looked at: {problem.strerror}. Plug it in again.") from problem
