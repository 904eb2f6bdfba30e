"""One kit: its family and route, a row a role, the findings, and the verdict where the next action is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QButtonGroup,
    QFrame,
    QHBoxLayout,
    QScrollArea,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from catalogue.shapes.finding import Level
from catalogue.shapes.kit import Kit
from catalogue.shapes.results import FamilyInfo
from ui import text
from ui.ages import Ages
from ui.look import tones_of, unit
from ui.tasks import Named, RouteInfo
from ui.widgets.basics import Button, Choice, Said, Words, wipe
from ui.widgets.decisions_list import DecisionsList
from ui.widgets.finding_list import FindingList
from ui.widgets.mend_list import MendList
from ui.widgets.role_rows import RoleRows
from ui.widgets.strips import Gauge
from ui.widgets.written_list import WrittenList

MOST_PROBLEMS = 6
MOST_CHANGES = 6
LEAST_WORDS = 48
"""Least width of the verdict beside its buttons, in units of the text's size."""


class KitView(QWidget):
    """Shows a kit; asks for everything else by signals."""

    route_picked = Signal(str)
    piece_wanted = Signal(str)
    evidence_wanted = Signal(object, object)
    why_wanted = Signal(str, str)
    change_wanted = Signal(object)
    word_wanted = Signal(object)
    pin_wanted = Signal(str, str)
    unpin_wanted = Signal(str)
    accept_wanted = Signal()
    write_wanted = Signal()
    sheet_wanted = Signal()
    release_wanted = Signal()
    stop_wanted = Signal()

    def __init__(self, ages: Ages, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAutoFillBackground(True)
        self.setBackgroundRole(self.backgroundRole().Base)
        step = unit(self)
        self._ready = False
        self.decisions = DecisionsList(self)
        self._known = Words("", self, soft=True)
        self.written = WrittenList(ages, self, title="Written kits of this family that are old by now", only_old=True)
        self._title = Words("", self, factor=1.35, bold=True)
        self._variant = Words("", self, soft=True)
        self._variant.hide()
        self._unsettled = Said("caution", "", self)
        self.accept = Button("Accept this family file", self)
        self.accept.clicked.connect(self.accept_wanted)
        settle = QHBoxLayout()
        settle.addWidget(self._unsettled, 1)
        settle.addWidget(self.accept)
        self._settle = QWidget(self)
        self._settle.setLayout(settle)
        settle.setContentsMargins(0, 0, 0, 0)
        self._routes = QWidget(self)
        self._route_row = QVBoxLayout(self._routes)
        self._route_row.setContentsMargins(0, 0, 0, 0)
        self._route_row.setSpacing(0)
        self._group: QButtonGroup | None = None
        self._choices: dict[str, Choice] = {}
        head = QVBoxLayout()
        head.setContentsMargins(step * 2, step * 2, step * 2, step)
        head.setSpacing(step // 2)
        self.release = Button("Add a release", self, kind="small")
        self.release.clicked.connect(self.release_wanted)
        known = QHBoxLayout()
        known.setSpacing(step)
        known.addWidget(self._known, 1)
        known.addWidget(self.release)
        head.addWidget(self._title)
        head.addWidget(self._variant)
        head.addLayout(known)
        for one in (self._settle, self._routes):
            head.addWidget(one)
        self.roles = RoleRows(self)
        self.roles.piece_wanted.connect(self.piece_wanted)
        self.roles.pin_wanted.connect(self.pin_wanted)
        self.roles.unpin_wanted.connect(self.unpin_wanted)
        self.roles.why_wanted.connect(self.why_wanted)
        self.mend = MendList(self)
        self.mend.wanted.connect(self.change_wanted)
        self.findings = FindingList(self)
        self.findings.evidence_wanted.connect(self.evidence_wanted)
        self.findings.word_wanted.connect(self.word_wanted)
        self._finding_title = Words("", self, factor=1.15, bold=True)
        inner = QWidget(self)
        inner.setAutoFillBackground(True)
        inner.setBackgroundRole(inner.backgroundRole().Base)
        column = QVBoxLayout(inner)
        column.setContentsMargins(step * 2, step, step * 2, step * 2)
        column.setSpacing(step)
        column.addWidget(self.roles)
        column.addSpacing(step)
        column.addWidget(self.mend)
        column.addSpacing(step)
        column.addWidget(self._finding_title)
        column.addWidget(self.findings)
        column.addSpacing(step)
        column.addWidget(self.decisions)
        column.addWidget(self.written)
        column.addStretch(1)
        self.area = QScrollArea(self)
        self.area.setWidgetResizable(True)
        self.area.setFrameShape(QFrame.Shape.NoFrame)
        self.area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAsNeeded)
        self.area.setAccessibleName("Roles and findings of the kit")
        self.area.setWidget(inner)
        waiting = QWidget(self)
        waits = QVBoxLayout(waiting)
        waits.setContentsMargins(step * 4, step * 4, step * 4, step * 4)
        self._waiting = Words("", waiting)
        self._gauge = Gauge(waiting)
        self.stop = Button("Stop", waiting)
        self.stop.clicked.connect(self.stop_wanted)
        self._trouble = Said("stop", "", waiting)
        waits.addWidget(self._waiting)
        waits.addWidget(self._gauge)
        waits.addWidget(self.stop)
        waits.addWidget(self._trouble)
        waits.addStretch(1)
        self._middle = QStackedWidget(self)
        self._middle.addWidget(waiting)
        self._middle.addWidget(self.area)
        self.foot = VerdictFoot(self)
        self.foot.write.clicked.connect(self.write_wanted)
        self.foot.sheet.clicked.connect(self.sheet_wanted)
        self.foot.first.clicked.connect(self.to_first_finding)
        self.foot.mend.clicked.connect(self.to_mend)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(0)
        outer.addLayout(head)
        outer.addWidget(self._middle, 1)
        outer.addWidget(self.foot)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Lay the roles for the new room."""
        super().resizeEvent(event)
        self._fit()

    def changeEvent(self, event: QEvent) -> None:
        """The same for a new text size."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.ApplicationFontChange) and hasattr(self, "area"):
            self._fit()

    def _fit(self) -> None:
        self.roles.fit(self.width() - unit(self) * 4 - self.area.verticalScrollBar().sizeHint().width())

    @property
    def unsettled(self) -> str:
        """Why the family is not settled; empty where it is."""
        return "" if self._settle.isHidden() else self._unsettled.words.text()

    def begin(self, info: FamilyInfo) -> None:
        """Start with a family whose routes are not known yet."""
        self.show_family(info)
        wipe(self._routes)
        self.foot.hide()
        self._wait("Looking at its routes")

    def show_family(self, info: FamilyInfo) -> None:
        """Show a family's title, and what keeps it from being settled."""
        self._title.say(text.plain(info.title))
        self._known.say(f"Known as of {info.as_of.isoformat()}" if info.as_of else "")
        self._variant.setVisible(bool(info.extends))
        self._variant.say(variant_words(info))
        self._settle.setVisible(not info.settled)
        self.accept.setEnabled(not info.problems)
        if info.problems:
            lines = [
                f"{text.short_place(one.file)}, line {one.line}: {one.text}" for one in info.problems[:MOST_PROBLEMS]
            ]
            left = len(info.problems) - MOST_PROBLEMS
            more = [f"and {left} more; kitproof families --check lists all"] if left > 0 else []
            self._unsettled.say("stop", "\n".join(["Not settled:", *lines, *more]))
        else:
            self._unsettled.say(
                "caution",
                f"Not settled: nobody here has accepted {info.file} yet. Read it first; whoever accepts it trusts it.",
            )

    def show_routes(self, routes: Sequence[RouteInfo], taken: str) -> None:
        """Offer the routes; one is taken."""
        wipe(self._routes)
        self._group = QButtonGroup(self)
        self._choices.clear()
        for route in routes:
            choice = self._choices[route.id] = Choice(route.words, self._routes)
            choice.setChecked(route.id == taken)
            choice.clicked.connect(lambda _=False, one=route.id: self.route_picked.emit(one))
            self._group.addButton(choice)
            self._route_row.addWidget(choice)

    def take_route(self, route: str) -> None:
        """Take another of the routes that are offered."""
        if route in self._choices:
            self._choices[route].setChecked(True)
            self.route_picked.emit(route)

    def prove(self, family: str, route: str) -> None:
        """A kit is being proved."""
        self.foot.hide()
        self.mend.show_nothing()
        self._wait("Looking at every piece that could be near a role")

    def show_at(self, done: int, total: int | None, what: str) -> None:
        """Show where the proving is."""
        self._gauge.show_at(done, total)
        self._waiting.say(f"{done:,} of {total:,}: {what}" if total else what)

    def fail(self, sentence: str) -> None:
        """It could not be proved."""
        self.foot.hide()
        self._middle.setCurrentIndex(0)
        for one in (self._waiting, self._gauge, self.stop):
            one.hide()
        self._trouble.say("stop", sentence)
        self._trouble.show()

    def show_kit(self, kit: Kit, named: Mapping[str, Named]) -> None:
        """Show a proved kit."""
        self.roles.show_kit(kit, named)
        counts = [
            text.count(number, level.value)
            for level in (Level.STOP, Level.CAUTION, Level.NOTE)
            if (number := sum(one.level is level for one in kit.findings))
        ]
        self._finding_title.say("Findings: " + ", ".join(counts) if counts else "No findings")
        self.findings.show_findings(kit.findings)
        self.foot.show_kit(kit)
        self.foot.show()
        self._middle.setCurrentIndex(1)
        self.area.verticalScrollBar().setValue(0)

    def to_mend(self) -> None:
        """Bring what would make it ready into view."""
        self._to(self.mend, self.mend.first_button())

    def to_decisions(self) -> None:
        """Bring what people decided into view."""
        self._to(self.decisions, self.decisions.findChild(Button))

    def _to(self, part: QWidget, inside: QWidget | None) -> None:
        bar = self.area.verticalScrollBar()
        inner = self.area.widget()
        if inner is not None:
            bar.setValue(part.mapTo(inner, part.rect().topLeft()).y() - unit(self))
        if inside is not None:
            inside.setFocus()

    def to_first_finding(self) -> None:
        """Bring the first finding into view."""
        row = self.findings.first_row()
        if row is not None:
            self.area.ensureWidgetVisible(row, 0, unit(self) * 6)
            inside = row.nextInFocusChain()
            if inside is not None:
                inside.setFocus()

    def _wait(self, words: str) -> None:
        self._waiting.say(words)
        self._gauge.show_at(0, None)
        for one in (self._waiting, self._gauge, self.stop):
            one.show()
        self._trouble.hide()
        self._middle.setCurrentIndex(0)


def variant_words(info: FamilyInfo) -> str:
    """What a variant changes, for its head; "" for a family that stands by itself."""
    if not info.extends:
        return ""
    said = [
        f"{text.plain(one.path, 80)} is {text.plain(one.now, 80) or 'gone'}"
        + (f" instead of {text.plain(one.was, 80)}" if one.was else "")
        for one in info.changes[:MOST_CHANGES]
    ]
    left = len(info.changes) - MOST_CHANGES
    more = [f"and {left} more; kitproof families lists them"] if left > 0 else []
    what = "; ".join([*said, *more]) if said else "it changes nothing"
    return f"Stands on {text.plain(info.extends, 80)}: {what}."


class VerdictFoot(QWidget):
    """The verdict in one sentence, beside the next thing to do."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        step = unit(self)
        self._verdict = Said("note", "", self, bold=True)
        self._said = Words("", self, soft=True, factor=0.9)
        self.first = Button("Go to the first stop", self, keys="Ctrl+Return", kind="next")
        self.write = Button("Write it out", self, keys="Ctrl+Return", kind="next")
        self.sheet = Button("Save the run sheet", self)
        self.mend = Button("What would make it ready", self, keys="Ctrl+M")
        words = QVBoxLayout()
        words.setSpacing(2)
        words.addWidget(self._verdict)
        words.addWidget(self._said)
        buttons = QHBoxLayout()
        buttons.setSpacing(step)
        buttons.addStretch(1)
        for one in (self.sheet, self.mend, self.write, self.first):
            buttons.addWidget(one)
        self._row = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._row.setContentsMargins(step * 2, step, step * 2, step)
        self._row.setSpacing(step)
        self._row.addLayout(words, 1)
        self._row.addLayout(buttons)
        self.hide()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put the buttons under the words where beside them the words would have too little room."""
        super().resizeEvent(event)
        beside = max(
            self.sheet.sizeHint().width() + self.write.sizeHint().width(),
            self.mend.sizeHint().width() + self.first.sizeHint().width(),
        )
        narrow = self.width() - beside < unit(self) * LEAST_WORDS
        self._row.setDirection(QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight)

    @property
    def verdict(self) -> str:
        """The sentence that is shown."""
        return self._verdict.words.text()

    def show_kit(self, kit: Kit) -> None:
        """Say a kit's verdict and offer what comes next."""
        ready = kit.verdict == "ready"
        stops = [one for one in kit.findings if one.level is Level.STOP]
        cautions = sum(one.level is Level.CAUTION for one in kit.findings)
        if ready:
            ran = ", never run" if any(one.code == "never-ran" for one in kit.findings) else ""
            with_ = f", with {text.count(cautions, 'caution')} to read" if cautions else ""
            self._verdict.say("good", f"This kit is ready{ran}{with_}: write it to a medium.")
        else:
            clear = sum(one.clearable and bool(one.piece) for one in stops)
            how = f"; {clear} of them a person's word can clear" if clear else ""
            self._verdict.say("stop", f"This kit is not ready: {text.count(len(stops), 'stop')}{how}.")
        self._said.say(" ".join([*kit.said, f"Kit {kit.id[:12]}."]))
        self.write.setVisible(ready)
        self.first.setVisible(not ready)
        self.mend.setVisible(not ready)
        self.sheet.setVisible(ready)

    def paintEvent(self, event: QPaintEvent) -> None:
        """A band with a line above it."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(tones_of(self).band))
        painter.setPen(QColor(tones_of(self).line))
        painter.drawLine(0, 0, self.width(), 0)
        painter.end()
