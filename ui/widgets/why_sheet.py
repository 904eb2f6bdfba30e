"""Why a piece is not the one that was chosen for a role: what it lost by, and every question with its answer."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QDialog, QFrame, QGridLayout, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from catalogue.shapes.finding import Evidence
from catalogue.shapes.why_not import Asking, WhyNot
from ui import text
from ui.look import unit
from ui.widgets.basics import Button, Said, Words
from ui.widgets.evidence_line import EvidenceLine

MOST_SHOWN = 4
STANDS = {
    "chosen": "It was chosen",
    "candidate": "It could fill the role",
    "waiting": "It could fill the role after a person's word",
    "miss": "It is stopped, and no word clears that",
    "not-near": "It is not near the role",
}


class WhySheet(QDialog):
    """Shows the answer; `evidence_wanted` when a person wants to see what an answer rests on."""

    evidence_wanted = Signal(object, str)

    def __init__(self, why: WhyNot, parent: QWidget) -> None:
        super().__init__(parent)
        self.why = why
        step = unit(self)
        title = f"Why not {text.plain(why.name, 80)}"
        self.setWindowTitle(title)
        self.setModal(True)
        column = QVBoxLayout(self)
        column.setContentsMargins(step * 3, step * 2, step * 3, step * 2)
        column.setSpacing(step)
        column.addWidget(Words(title, self, factor=1.25, bold=True))
        about = f"for {text.name_of(why.role)}; {STANDS.get(why.stands, why.stands).lower()}"
        if why.version is not None:
            about += f"; version {text.plain(why.version, 40)} ({text.plain(why.version_source, 80)})"
        column.addWidget(Words(text.begun(about), self, soft=True))
        column.addWidget(Words(text.plain(why.text), self))
        inner = QWidget(self)
        inner.setAutoFillBackground(True)
        inner.setBackgroundRole(inner.backgroundRole().Base)
        rows = QVBoxLayout(inner)
        rows.setContentsMargins(step, step, step, step)
        rows.setSpacing(step)
        if why.stops:
            rows.addWidget(Words("What stops it", inner, bold=True))
            for stop in why.stops:
                said = f"{text.plain(stop.text)} ({stop.code})"
                self._answer(rows, inner, "stop", said, stop.evidence)
        for heading, asked in (
            ("What makes a piece near the role", why.nearness),
            ("What the role asks of it", why.fit),
        ):
            if asked:
                rows.addWidget(Words(heading, inner, bold=True))
                for one in asked:
                    self._asking(rows, inner, one)
        rows.addStretch(1)
        self.area = QScrollArea(self)
        self.area.setWidgetResizable(True)
        self.area.setFrameShape(QFrame.Shape.NoFrame)
        self.area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.area.setAccessibleName(f"{title}: every question and its answer")
        self.area.setWidget(inner)
        column.addWidget(self.area, 1)
        foot = QHBoxLayout()
        foot.addStretch(1)
        self.close_button = Button("Close", self, kind="next")
        self.close_button.setDefault(True)
        self.close_button.clicked.connect(self.accept)
        foot.addWidget(self.close_button)
        column.addLayout(foot)
        room = parent.window().size()
        self.resize(min(room.width() - step * 4, step * 110), min(room.height() - step * 4, step * 66))
        self.close_button.setFocus()

    def _asking(self, rows: QVBoxLayout, inner: QWidget, one: Asking) -> None:
        said = f"{text.begun(text.name_of(one.what))}: {one.says}. {text.plain(one.text)}"
        self._answer(rows, inner, one.says, said, one.evidence)

    def _answer(self, rows: QVBoxLayout, inner: QWidget, mark: str, said: str, evidence: Sequence[Evidence]) -> None:
        step = unit(self)
        row = QWidget(inner)
        grid = QGridLayout(row)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(step * 2)
        grid.addWidget(Said(mark, said, row), 0, 0, Qt.AlignmentFlag.AlignTop)
        seen = QVBoxLayout()
        seen.setSpacing(step // 2)
        for shown in evidence[:MOST_SHOWN]:
            line = EvidenceLine(shown, row)
            line.wanted.connect(lambda what: self.evidence_wanted.emit(what, self.why.piece))
            seen.addWidget(line)
        if len(evidence) > MOST_SHOWN:
            seen.addWidget(Words(f"and {len(evidence) - MOST_SHOWN} more places", row, soft=True))
        grid.addLayout(seen, 0, 1)
        grid.setColumnStretch(0, 1)
        grid.setColumnStretch(1, 1)
        rows.addWidget(row)
