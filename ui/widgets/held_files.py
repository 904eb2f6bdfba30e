"""Files that a host file names: chosen from disk, each with what it holds, and taken out again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QVBoxLayout, QWidget

from catalogue.shapes.host_form import SavedFile
from ui import text
from ui.look import unit
from ui.widgets.basics import Button, Said, Words, wipe

MOST_SUBJECTS = 4


class HeldFiles(QWidget):
    """A list of files under a question. `look` is asked for what each holds and answers through `show_held`."""

    changed = Signal()

    def __init__(
        self,
        question: str,
        about: str,
        add: str,
        look: Callable[[HeldFiles, Path], None],
        parent: QWidget,
        *,
        most: int,
    ) -> None:
        super().__init__(parent)
        self._about = f"{question} {about}"
        self._look = look
        self._most = most
        self.files: tuple[Path, ...] = ()
        self.held: dict[Path, SavedFile] = {}
        step = unit(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(step // 2)
        head = QHBoxLayout()
        head.setSpacing(step)
        head.addWidget(Words(question, self, soft=True), 1)
        self.add = Button(add, self, kind="small")
        self.add.setAccessibleName(f"{add}: {self._about}")
        self.add.clicked.connect(self._choose)
        head.addWidget(self.add)
        column.addLayout(head)
        self._rows = QWidget(self)
        self._column = QVBoxLayout(self._rows)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(step // 2)
        column.addWidget(self._rows)
        self._show()

    def show_files(self, files: Sequence[Path]) -> None:
        """Show these files; what they hold is asked for."""
        self.files = tuple(dict.fromkeys(files))[: self._most]
        for file in self.files:
            if file not in self.held:
                self._look(self, file)
        self._show()

    def show_held(self, held: SavedFile) -> None:
        """Show what one of the files holds."""
        self.held[held.file] = held
        self._show()

    @property
    def trouble(self) -> str:
        """The first reason why one of the files cannot be used; "" where all can."""
        bad = [one for one in self.files if one in self.held and self.held[one].why]
        return f"{text.plain(bad[0].name, 80)}: {self.held[bad[0]].why}" if bad else ""

    def _choose(self) -> None:
        names, _ = QFileDialog.getOpenFileNames(self, text.begun(self._about), "", "All files (*)")
        if names:
            found = tuple(Path(one) for one in names)
            self.show_files(found[:1] if self._most == 1 else (*self.files, *found))
            self.changed.emit()

    def _take_out(self, file: Path) -> None:
        self.files = tuple(one for one in self.files if one != file)
        self._show()
        self.add.setFocus()
        self.changed.emit()

    def _show(self) -> None:
        wipe(self._rows)
        if not self.files:
            self._column.addWidget(Words("not known", self._rows))
        for file in self.files:
            self._column.addWidget(self._row(file))

    def _row(self, file: Path) -> QWidget:
        row = QWidget(self._rows)
        line = QHBoxLayout(row)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(unit(self))
        held = self.held.get(file)
        said = QVBoxLayout()
        said.setSpacing(1)
        name = text.plain(file.name, 80)
        if held is not None and held.why:
            said.addWidget(Said("stop", f"{name}: {held.why}", row))
        else:
            said.addWidget(Words(name, row))
            for words in what_it_holds(held):
                said.addWidget(Words(words, row, soft=True, factor=0.9))
        line.addLayout(said, 1)
        out = Button("Take out", row, kind="small")
        out.setAccessibleName(f"Take out {name}: {self._about}")
        out.clicked.connect(lambda: self._take_out(file))
        line.addWidget(out)
        return row


def what_it_holds(held: SavedFile | None) -> list[str]:
    """A file's content in lines."""
    if held is None:
        return ["looking at it"]
    if held.resources:
        return [text.count(held.resources, "entry", "entries")]
    lines = []
    if held.subjects:
        lines.append(text.begun(text.count(len(held.subjects), "authority", "authorities")) + ":")
        lines += [text.plain(one, 120) for one in held.subjects[:MOST_SUBJECTS]]
        if len(held.subjects) > MOST_SUBJECTS:
            lines.append(f"and {len(held.subjects) - MOST_SUBJECTS} more")
    if held.digests:
        lines.append(text.count(held.digests, "digest"))
    return lines or ["it holds no entry"]
