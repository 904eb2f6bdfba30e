"""What a draft is made from: a folder or chosen pieces, saved texts, dumps and logs, from files or pasted."""

from __future__ import annotations

import re
import tempfile
from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QVBoxLayout, QWidget

from ui import text
from ui.look import unit
from ui.models.said_rows import SaidRow
from ui.widgets.basics import Button, Entry, Said, Words
from ui.widgets.said_list import SaidList
from ui.widgets.text_area import TextArea

ABOUT = (
    "Choose a folder whose pieces are known to be good for one card, and add what was saved when a conversion worked: "
    "the card's listing, dumps of its memory, the log of what was typed. Nothing in them is run."
)
HASH = re.compile(r"[0-9A-Fa-f]{8,64}")
MOST_FILES = 40


class DraftGiven(QWidget):
    """`wanted` carries the arguments of our own command that drafts from what is given."""

    wanted = Signal(list)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.files: list[Path] = []
        self._pasted: tempfile.TemporaryDirectory[str] | None = None
        step = unit(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(step * 2, step, step * 2, step)
        column.setSpacing(step // 2)
        column.addWidget(Words(ABOUT, self, soft=True))
        column.addSpacing(step)
        column.addWidget(Words("Folder, or the SHA-256 of each piece", self, soft=True))
        row = QHBoxLayout()
        row.setSpacing(step)
        self.folder = Entry(self)
        self.folder.setAccessibleName("Folder, or the SHA-256 of each piece")
        self.folder.setPlaceholderText("a folder's path, or hashes of indexed pieces with blanks between")
        self.folder.setMaxLength(40_000)
        self.choose = Button("Choose a folder", self, kind="small")
        self.choose.clicked.connect(self._choose)
        row.addWidget(self.folder, 1)
        row.addWidget(self.choose)
        column.addLayout(row)
        column.addSpacing(step)
        head = QHBoxLayout()
        head.setSpacing(step)
        head.addWidget(Words("Saved texts, dumps and logs", self, soft=True), 1)
        self.add = Button("Add files", self, kind="small")
        self.add.setAccessibleName("Add saved texts, dumps and logs")
        self.drop = Button("Take out", self, kind="small")
        self.drop.setAccessibleName("Take out the chosen text")
        self.add.clicked.connect(self._add)
        self.drop.clicked.connect(self._drop)
        head.addWidget(self.add)
        head.addWidget(self.drop)
        column.addLayout(head)
        self.list = SaidList("Saved texts, dumps and logs", self)
        self.list.setMinimumHeight(step * 9)
        column.addWidget(self.list, 1)
        column.addSpacing(step)
        self.paste = TextArea("Text to paste", "or paste a listing or a log here", self)
        column.addWidget(self.paste, 1)
        below = QHBoxLayout()
        below.setSpacing(step)
        self.take = Button("Add what is pasted", self, kind="small")
        self.take.clicked.connect(self._take)
        below.addWidget(self.take)
        self.wrong = Said("stop", "", self)
        self.wrong.hide()
        below.addWidget(self.wrong, 1)
        below.addStretch(1)
        self.do = Button("Draft the family", self, keys="Ctrl+Return", kind="next")
        self.do.clicked.connect(self._draft)
        below.addWidget(self.do)
        column.addLayout(below)
        self.folder.textChanged.connect(self._look)
        self.paste.textChanged.connect(self._look)
        self._look()

    def close_files(self) -> None:
        """Take away what was pasted."""
        if self._pasted is not None:
            self._pasted.cleanup()
            self._pasted = None

    def add_files(self, files: list[Path]) -> None:
        """Add files, each once, up to a bound."""
        self.files = list(dict.fromkeys([*self.files, *files]))[:MOST_FILES]
        self.list.show_rows([SaidRow(str(one), text.plain(one.name, 200), text.plain(str(one.parent), 300))
                             for one in self.files])  # fmt: skip
        self._look()

    def _look(self) -> None:
        self.drop.setEnabled(bool(self.files))
        self.take.setEnabled(bool(self.paste.toPlainText().strip()))
        self.do.setEnabled(bool(self.folder.text().strip()))

    def _choose(self) -> None:
        folder = QFileDialog.getExistingDirectory(self, "A folder of pieces that are known to be good")
        if folder:
            self.folder.setText(folder)

    def _add(self) -> None:
        found, _ = QFileDialog.getOpenFileNames(self, "Saved texts, dumps and logs")
        self.add_files([Path(one) for one in found])

    def _drop(self) -> None:
        key = self.list.key or (str(self.files[-1]) if self.files else "")
        self.files = [one for one in self.files if str(one) != key]
        self.add_files([])

    def _take(self) -> None:
        said = self.paste.toPlainText()
        if self._pasted is None:
            self._pasted = tempfile.TemporaryDirectory(prefix="kitproof-pasted-")
        number = sum(one.parent == Path(self._pasted.name) for one in self.files) + 1
        file = Path(self._pasted.name) / f"PASTED{number}.TXT"
        try:
            file.write_text(said, encoding="utf-8", errors="replace", newline="\n")
        except OSError as problem:
            self._say(f"What is pasted could not be kept for the draft: {problem.strerror}.")
            return
        self.paste.clear()
        self.add_files([file])

    def _draft(self) -> None:
        said = self.folder.text().strip()
        texts = [word for file in self.files for word in ("--identity", str(file))]
        hashes = said.split()
        if Path(said).is_dir():
            self._say("")
            self.wanted.emit(["draft-family", str(Path(said).absolute()), *texts, "--json"])
        elif hashes and all(HASH.fullmatch(one) for one in hashes):
            self._say("")
            pieces = [word for one in hashes for word in ("--piece", one)]
            self.wanted.emit(["draft-family", *pieces, *texts, "--json"])
        else:
            self._say("That is neither a folder that is there, nor hashes of pieces.")

    def _say(self, sentence: str) -> None:
        self.wrong.setVisible(bool(sentence))
        self.wrong.say("stop", sentence)
