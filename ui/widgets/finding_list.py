"""Findings: what is wrong, how we know, what to do, side by side; a press shows what the evidence speaks of."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from catalogue.shapes.finding import Evidence, Finding, Level
from ui import tasks, text
from ui.look import tones_of, unit
from ui.widgets.basics import Button, Words, wipe
from ui.widgets.evidence_line import EvidenceLine
from ui.widgets.marks import Mark

PORTION = 15
"""Findings that are laid out at once: Qt's time for a layout of wrapped words grows faster than their number."""
MOST_EVIDENCE = 6
NO_RULE = "rule-failed"
"""The code of a check that could not be run: a fault of the program, of which no manual tells."""
ORDER = {Level.STOP: 0, Level.CAUTION: 1, Level.NOTE: 2}
CAPTIONS = ("What is wrong", "How we know", "What to do")


class FindingRow(QFrame):
    """One finding."""

    evidence_wanted = Signal(object, object)
    word_wanted = Signal(object)

    def __init__(self, finding: Finding, parent: QWidget | None = None, *, words: bool = True) -> None:
        super().__init__(parent)
        self.finding = finding
        step = unit(self)
        grid = QGridLayout(self)
        grid.setContentsMargins(0, step, 0, step)
        grid.setHorizontalSpacing(step * 2)
        grid.setVerticalSpacing(step // 2)
        grid.addWidget(Mark(finding.level.value, self, 2.6), 0, 0, Qt.AlignmentFlag.AlignTop)
        about = text.name_of(finding.role) if finding.role else "the whole kit"
        left = QVBoxLayout()
        left.setSpacing(step // 2)
        left.addWidget(Words(f"{text.begun(finding.level.value)}: {text.plain(finding.text)}", self, bold=True))
        left.addWidget(Words(f"{about}; {finding.code}", self, soft=True, factor=0.9))
        if finding.cleared_by is not None:
            said = f"Cleared by {text.plain(finding.cleared_by.by)}: {text.plain(finding.cleared_by.reason)}"
            left.addWidget(Words(said, self))
        left.addStretch(1)
        middle = QVBoxLayout()
        middle.setSpacing(step // 2)
        for one in finding.evidence[:MOST_EVIDENCE]:
            self._evidence(middle, one)
        if len(finding.evidence) > MOST_EVIDENCE:
            middle.addWidget(Words(f"and {len(finding.evidence) - MOST_EVIDENCE} more places", self, soft=True))
        middle.addStretch(1)
        right = QVBoxLayout()
        right.setSpacing(step // 2)
        right.addWidget(Words(text.plain(finding.remedy), self))
        if words and finding.clearable and finding.cleared_by is None and finding.piece:
            give = Button("Give your word", self)
            give.setAccessibleDescription(f"Clears {finding.code} for this piece, with your reason and name")
            give.clicked.connect(lambda: self.word_wanted.emit(finding))
            right.addLayout(_held_left(give))
        if finding.code != NO_RULE:
            about_rule = Button("About this rule", self, kind="small")
            about_rule.setAccessibleName(f"About the rule {finding.code}")
            about_rule.clicked.connect(self._about_rule)
            right.addLayout(_held_left(about_rule))
        right.addStretch(1)
        for column, part in enumerate((left, middle, right), 1):
            grid.addLayout(part, 0, column)
            grid.setColumnStretch(column, (6, 6, 5)[column - 1])
            grid.setColumnMinimumWidth(column, step * 12)
        self.setAccessibleName(f"{finding.level.value}: {finding.text}")

    def _about_rule(self) -> None:
        from ui.widgets.rule_sheet import RuleSheet

        RuleSheet(tasks.rule(self.finding.code), self.window()).open()

    def _evidence(self, column: QVBoxLayout, one: Evidence) -> None:
        line = EvidenceLine(one, self)
        line.wanted.connect(lambda what: self.evidence_wanted.emit(what, self.finding.piece))
        column.addWidget(line)

    def paintEvent(self, event: QPaintEvent) -> None:
        """A line below each."""
        painter = QPainter(self)
        painter.setPen(QColor(tones_of(self).line))
        painter.drawLine(0, self.height() - 1, self.width(), self.height() - 1)
        painter.end()


def _held_left(button: Button) -> QHBoxLayout:
    row = QHBoxLayout()
    row.addWidget(button)
    row.addStretch(1)
    return row


class FindingList(QWidget):
    """All findings, stops first, under the captions of their three parts."""

    evidence_wanted = Signal(object, object)
    word_wanted = Signal(object)

    def __init__(self, parent: QWidget | None = None, *, words: bool = True) -> None:
        super().__init__(parent)
        self._words = words
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(0)
        self._shown = 0
        self._more: Button | None = None
        self.findings: list[Finding] = []

    def show_findings(self, findings: Sequence[Finding]) -> None:
        """Show other findings."""
        wipe(self)
        self._more = None
        self.findings = sorted(findings, key=lambda one: ORDER[one.level])
        if not self.findings:
            return
        self._column.addWidget(self._captions())
        self._shown = 0
        self._show_more()

    def _show_more(self) -> None:
        """Show the next findings, and a button where there are still more."""
        if self._more is not None:
            self._more.hide()
            self._more.deleteLater()
            self._more = None
        for finding in self.findings[self._shown : self._shown + PORTION]:
            row = FindingRow(finding, self, words=self._words)
            row.evidence_wanted.connect(self.evidence_wanted)
            row.word_wanted.connect(self.word_wanted)
            self._column.addWidget(row)
        self._shown += PORTION
        left = len(self.findings) - self._shown
        if left > 0:
            self._more = Button(f"Show more findings: {left:,} are left", self)
            self._more.clicked.connect(self._show_more)
            self._column.addWidget(self._more)

    def first_row(self) -> FindingRow | None:
        """The row of the first finding."""
        return self.findChild(FindingRow)

    def _captions(self) -> QWidget:
        step = unit(self)
        head = QWidget(self)
        grid = QGridLayout(head)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(step * 2)
        room = QWidget(head)
        room.setFixedWidth(round(step * 2.6))
        grid.addWidget(room, 0, 0)
        for column, caption in enumerate(CAPTIONS, 1):
            grid.addWidget(Words(caption, head, soft=True, factor=0.9), 0, column)
            grid.setColumnStretch(column, (6, 6, 5)[column - 1])
            grid.setColumnMinimumWidth(column, step * 12)
        return head
