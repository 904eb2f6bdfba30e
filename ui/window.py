"""The one window: the scan box and the plates above, a page below, and two strips at the foot."""

from __future__ import annotations

from PySide6.QtCore import QByteArray, QEvent, QRectF, QSettings, QSize, Qt, QTimer, Signal
from PySide6.QtGui import (
    QCloseEvent,
    QColor,
    QDragEnterEvent,
    QDropEvent,
    QKeySequence,
    QPainter,
    QPaintEvent,
    QShortcut,
)
from PySide6.QtWidgets import QApplication, QHBoxLayout, QSizePolicy, QStackedWidget, QVBoxLayout, QWidget

from catalogue.shapes.changes import Changes
from ui.look import tones_of, unit
from ui.pages import PAGES
from ui.pages.page import PageWidget
from ui.session import Open, Said, Session
from ui.widgets.basics import Words
from ui.widgets.plates import Plates
from ui.widgets.scan_box import Meant, ScanBox, meaning
from ui.widgets.strips import JobStrip, SayStrip

BUILD_LATER_MS = 600
FRAME = QSize(16, 48)
"""Room that a desktop's title bar and edges take of the screen when the window is opened for the first time."""
TEXT_STEPS = (0.8, 0.9, 1.0, 1.15, 1.3, 1.5, 1.75, 2.0)


class Badge(QWidget):
    """Our own mark."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        """A square."""
        return QSize(unit(self) * 4, unit(self) * 4)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it."""
        tones = tones_of(self)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        draw_badge(painter, QRectF(self.rect()), tones.accent, tones.ground)
        painter.end()


def draw_badge(painter: QPainter, box: QRectF, colour: str, ground: str) -> None:
    """Draw our mark into a square: an adapter card, its edge contacts below, three of its pieces on it."""
    side = box.width() / 16

    def part(left: float, top: float, wide: float, tall: float) -> QRectF:
        return QRectF(box.left() + left * side, box.top() + top * side, wide * side, tall * side)

    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(colour))
    painter.drawRoundedRect(part(1, 2.5, 14, 9), side * 0.6, side * 0.6)
    for left in (3.0, 4.6, 6.2, 9.4, 11.0):
        painter.drawRect(part(left, 11.5, 1, 2.2))
    painter.setBrush(QColor(ground))
    painter.drawRect(part(3, 4.6, 4.4, 4.8))
    painter.drawRect(part(8.6, 4.6, 2, 2))
    painter.drawRect(part(8.6, 7.4, 2, 2))
    painter.drawRect(part(11.6, 4.6, 1.6, 4.8))


class Window(QWidget):
    """The window. Pages are built when they are first opened; the Shelf at once."""

    painted = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        session.setParent(self)
        self.setWindowTitle("Kitproof")
        self.setAcceptDrops(True)
        self._painted = False
        self._pages: dict[int, PageWidget] = {}
        self._later = QTimer(self)
        self._later.setSingleShot(True)
        self._later.setInterval(BUILD_LATER_MS)
        self._later.timeout.connect(self._build_rest)
        step = unit(self)
        self.scan = ScanBox(self)
        self.plates = Plates(tuple(page.title for page in PAGES), self)
        self.stack = QStackedWidget(self)
        self.jobs = JobStrip(self)
        self.says = SayStrip(self)
        head = QHBoxLayout()
        head.setContentsMargins(step * 2, 0, 0, 0)
        head.setSpacing(step * 2)
        head.addWidget(Badge(self))
        head.addWidget(self.scan, 4)
        head.addWidget(self.plates, 5)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(head)
        column.addWidget(self.stack, 1)
        column.addWidget(self.jobs)
        column.addWidget(self.says)
        self.plates.chosen.connect(self.open_page)
        self.scan.scanned.connect(self._scanned)
        self.jobs.stop_wanted.connect(session.stop_job)
        session.job_began.connect(self.jobs.begin)
        session.job_progressed.connect(self.jobs.show_at)
        session.job_ended.connect(self.jobs.end)
        session.said.connect(self._say)
        session.changed.connect(self._changed)
        session.wanted.connect(self._open)
        for keys, step_by in (("Ctrl++", 1), ("Ctrl+=", 1), ("Ctrl+-", -1)):
            QShortcut(QKeySequence(keys), self, lambda by=step_by: self.scale_text(by))
        QShortcut(QKeySequence("Ctrl+0"), self, lambda: self.scale_text(0))
        QShortcut(QKeySequence("F1"), self, self.show_keys)
        room = self.screen().availableSize()
        self.resize(min(1280, room.width() - FRAME.width()), min(800, room.height() - FRAME.height()))
        placed = session.settings.value("window/place")
        if isinstance(placed, QByteArray):
            self.restoreGeometry(placed)
        self.plates.show_page(0)

    def start(self) -> None:
        """Build the first page and look at the catalogue; called once the window is painted."""
        self.session.warm_up()
        self.open_page(0)
        self.page(0).start()
        self.scan.edit.setFocus()
        self._later.start()

    def page(self, at: int) -> PageWidget:
        """Page `at`, built when it is first wanted."""
        if at not in self._pages:
            page = PAGES[at].build(self.session)
            page.told.connect(self.plates.plate(at).tell)
            self._pages[at] = page
            self.stack.addWidget(page)
        return self._pages[at]

    def _build_rest(self) -> None:
        """Build the pages nobody has opened yet, so that their plates have news to tell."""
        for at in range(len(PAGES)):
            self.page(at)
        self.session.ages.look()

    def page_called(self, title: str) -> int:
        """The position of the page with that title."""
        return next(at for at, page in enumerate(PAGES) if page.title == title)

    def open_page(self, at: int) -> None:
        """Bring page `at` to the front."""
        self.stack.setCurrentWidget(self.page(at))
        self.plates.show_page(at)

    def scale_text(self, by: int) -> None:
        """Make all text a step larger or smaller, or as the system has it (0); it is remembered."""
        settings = self.session.settings
        step = TEXT_STEPS.index(1.0) if by == 0 else min(len(TEXT_STEPS) - 1, max(0, text_step(settings) + by))
        settings.setValue("text/step", step)
        apply_text_step(step)

    def show_keys(self) -> None:
        """Show the sheet of keys; the window goes on working."""
        from ui.widgets.keys import Keys

        sheet = self.findChild(Keys) or Keys(self)
        sheet.show()
        sheet.activateWindow()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Say once that the window is on the screen."""
        painter = QPainter(self)
        painter.setPen(QColor(tones_of(self).line))
        bottom = self.stack.geometry().top() - 1
        painter.drawLine(0, bottom, self.width(), bottom)
        painter.end()
        if not self._painted:
            self._painted = True
            QTimer.singleShot(0, self, self.painted.emit)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Folders and files may be dropped anywhere."""
        if any(url.isLocalFile() for url in event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Index what was dropped."""
        paths = [url.toLocalFile() for url in event.mimeData().urls() if url.isLocalFile()]
        if paths:
            event.acceptProposedAction()
            self.open_page(0)
            self.page(0).take_paths(paths)

    def changeEvent(self, event: QEvent) -> None:
        """A new palette is painted at once."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange:
            self.update()

    def closeEvent(self, event: QCloseEvent) -> None:
        """End all that runs, and wait for it."""
        self.session.settings.setValue("window/place", self.saveGeometry())
        self._later.stop()
        self.session.close()
        super().closeEvent(event)

    def _say(self, said: Said) -> None:
        self.says.say(said.level, said.text)

    def _changed(self, changes: Changes) -> None:
        for at, page in self._pages.items():
            PAGES[at].refresh(page, changes)

    def _open(self, wish: Open) -> None:
        at = self.page_called(wish.page)
        self.open_page(at)
        self.page(at).open(wish)

    def _scanned(self, scanned: str) -> None:
        context = self.session.context
        self.session.lane("scan").ask(
            lambda stopper: meaning(context, scanned), self._meant, self.session.trouble, instead_of="scan"
        )

    def _meant(self, meant: Meant) -> None:
        self.session.say("note", meant.why)
        if meant.families:
            self._open(Open("Kits", family=meant.families[0].id, mode=meant.families[0].mode, ids=meant.text))
        else:
            self._open(Open("Shelf", piece=meant.piece, search=meant.search))


def text_step(settings: QSettings) -> int:
    """The text step that is remembered; the system's own size where nothing, or nothing that is a number, is."""
    kept = str(settings.value("text/step", ""))
    return int(kept) if kept.isascii() and kept.isdigit() else TEXT_STEPS.index(1.0)


def apply_text_step(step: int) -> None:
    """Set the text size of the whole program; `step` counts in TEXT_STEPS."""
    app = QApplication.instance()
    if not isinstance(app, QApplication):
        return
    base = app.property("kitproof_text")
    if base is None:
        base = app.font().pointSizeF()
        app.setProperty("kitproof_text", base)
    font = app.font()
    font.setPointSizeF(float(base) * TEXT_STEPS[min(len(TEXT_STEPS) - 1, max(0, step))])
    app.setFont(font)
    for one in app.allWidgets():
        if isinstance(one, Words):
            one.rescale()
