"""One target: what it is, the kit that would be written there under which names, how it came out, what lies there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from catalogue.shapes.finding import Finding
from catalogue.shapes.kit import Kit
from ui import text
from ui.look import unit
from ui.tasks import Laid
from ui.volumes import Entry, Target
from ui.widgets.basics import Button, Said, Words, wipe
from ui.widgets.finding_list import FindingList
from ui.widgets.strips import Gauge

ENTRY_WORDS = {
    "kit": ("note", "a kit's folder; reading it back proves it"),
    "half": ("stop", "a kit that was not finished"),
    "folder": ("note", "a folder"),
    "file": ("note", ""),
    "other": ("caution", "neither file nor folder"),
}
MOST_NAMES = 60


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a write-out or a read-back came out."""

    mark: str
    sentence: str
    findings: Sequence[Finding] = ()
    odd: tuple[str, ...] = ()


class MediumView(QWidget):
    """Shows one target."""

    evidence_wanted = Signal(object, object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAutoFillBackground(True)
        self.setBackgroundRole(self.backgroundRole().Base)
        step = unit(self)
        self._target: Target | None = None
        self._title = Words("", self, factor=1.35, bold=True)
        self._facts = Words("", self, soft=True)
        self._fat = Said(
            "caution", "DOS and many UEFI shells read only FAT: this one may not be seen at the bench.", self
        )
        self._kit_title = Words("", self, factor=1.15, bold=True)
        self._kit_words = Words("", self)
        self._names = QWidget(self)
        self._names.setLayout(QGridLayout())
        self.write = Button("Write it out", self, keys="Ctrl+Return", kind="next")
        self.to_kits = Button("Go to Kits", self)
        self.read_back = Button("Read it back", self, keys="Ctrl+R")
        self._outcome = Said("note", "", self, bold=True)
        self._odd = Words("", self)
        self._waiting = Words("", self, soft=True)
        self._gauge = Gauge(self)
        self.findings = FindingList(self, words=False)
        self.findings.evidence_wanted.connect(self.evidence_wanted)
        self._there_title = Words("What lies there", self, factor=1.15, bold=True)
        self._there = QWidget(self)
        self._there.setLayout(QGridLayout())
        for one in (self._names, self._there):
            layout = one.layout()
            assert isinstance(layout, QGridLayout)
            layout.setContentsMargins(0, 0, 0, 0)
            layout.setHorizontalSpacing(step * 3)
            layout.setVerticalSpacing(step // 2)
            layout.setColumnStretch(3, 1)
        inner = QWidget(self)
        inner.setAutoFillBackground(True)
        inner.setBackgroundRole(inner.backgroundRole().Base)
        column = QVBoxLayout(inner)
        column.setContentsMargins(step * 2, step * 2, step * 2, step * 2)
        column.setSpacing(step)
        for one in (self._title, self._facts, self._fat, _gap(step), self._kit_title, self._kit_words, self._names):
            column.addWidget(one)
        row = QHBoxLayout()
        row.setSpacing(step)
        for button in (self.write, self.to_kits, self.read_back):
            row.addWidget(button)
        row.addStretch(1)
        column.addLayout(row)
        for one in (self._outcome, self._odd, self._waiting, self._gauge, self.findings, _gap(step)):
            column.addWidget(one)
        column.addWidget(self._there_title)
        column.addWidget(self._there)
        column.addStretch(1)
        scroll = QScrollArea(self)
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setAccessibleName("The medium, what is written to it and what lies there")
        scroll.setWidget(inner)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scroll)
        self.show_kit(None, None)
        self.show_outcome(None)

    @property
    def outcome(self) -> str:
        """The sentence that says how it came out; empty while there is none."""
        return "" if self._outcome.isHidden() else self._outcome.words.text()

    def show_target(self, target: Target) -> None:
        """Show another target."""
        self._title.say(target.name)
        self._facts.say(f"{text.plain(target.path, 400)}. {target.facts}")
        self._fat.setVisible(not target.fat)

    def show_kit(self, kit: Kit | None, laid: Laid | None) -> None:
        """Show the kit that would be written, and the names its files would have."""
        wipe(self._names)
        self.write.setVisible(kit is not None)
        self.to_kits.setVisible(kit is None)
        if kit is None:
            self._kit_title.say("No kit is chosen yet")
            self._kit_words.say(
                "Prove one under Kits and say there that it is to be written out. What lies here can be read back now."
            )
            return
        self._kit_title.say(f"To be written: {text.plain(kit.family_title)}")
        where = f", into the folder {laid.code}" if laid else ""
        self._kit_words.say(f"Route {kit.route}, kit {kit.id[:12]}{where}, under these names as DOS shows them:")
        if laid is None:
            return
        grid = self._names.layout()
        assert isinstance(grid, QGridLayout)
        for row, (name, roles, size) in enumerate(laid.files[:MOST_NAMES]):
            words = (name, ", ".join(text.name_of(one) for one in roles), text.size(size))
            for column, said in enumerate(words):
                label = Words(said, self._names, bold=column == 0)
                label.setWordWrap(False)
                grid.addWidget(
                    label, row, column, Qt.AlignmentFlag.AlignRight if column == 2 else Qt.AlignmentFlag.AlignLeft
                )
        own = Words("and the kit's own papers: KIT.JSN, RUNSHEET.TXT, SHA256.SUM", self._names, soft=True)
        grid.addWidget(own, len(laid.files), 0, 1, 4)

    def show_outcome(self, outcome: Outcome | None) -> None:
        """Show how it came out."""
        self._waiting.hide()
        self._gauge.hide()
        self._outcome.setVisible(outcome is not None)
        self._odd.setVisible(outcome is not None and bool(outcome.odd))
        self.findings.show_findings(outcome.findings if outcome else ())
        if outcome is not None:
            self._outcome.say(outcome.mark, outcome.sentence)
            self._odd.say("\n".join(text.plain(one, 200) for one in outcome.odd[:MOST_NAMES]))

    def waiting(self, words: str) -> None:
        """Something is being read."""
        self.show_outcome(None)
        self._waiting.say(words)
        self._gauge.show_at(0, None)
        self._waiting.show()
        self._gauge.show()

    def show_at(self, done: int, total: int | None, what: str) -> None:
        """Show where the reading is."""
        self._waiting.say(what)
        self._gauge.show_at(done, total)

    def show_entries(self, entries: Sequence[Entry], more: bool) -> None:
        """Show what lies there."""
        wipe(self._there)
        grid = self._there.layout()
        assert isinstance(grid, QGridLayout)
        if not entries:
            grid.addWidget(Words("Nothing: it is empty.", self._there, soft=True), 0, 0, 1, 4)
        for row, entry in enumerate(entries):
            mark, words = ENTRY_WORDS[entry.kind]
            name = Said(mark, entry.name, self._there)
            name.words.setWordWrap(False)
            grid.addWidget(name, row, 0)
            about = Words(words or text.size(entry.size), self._there, soft=True)
            about.setWordWrap(False)
            grid.addWidget(about, row, 1)
        if more:
            grid.addWidget(Words("and more than is listed here", self._there, soft=True), len(entries), 0, 1, 3)

    def no_entries(self, sentence: str) -> None:
        """It could not be looked at."""
        wipe(self._there)
        grid = self._there.layout()
        assert isinstance(grid, QGridLayout)
        grid.addWidget(Said("stop", sentence, self._there), 0, 0, 1, 3)


def _gap(step: int) -> QWidget:
    gap = QWidget()
    gap.setFixedHeight(step)
    return gap
