"""The chosen piece: what it is, its ruler, its lines, and the byte a person stands on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QHBoxLayout, QStackedLayout, QVBoxLayout, QWidget

from ui import tasks, text
from ui.look import unit
from ui.models.field_lines import FieldLines
from ui.models.lines import lines_of, spans_of
from ui.session import Session
from ui.widgets.basics import Button, Entry, Words
from ui.widgets.byte_store import ByteStore
from ui.widgets.line_view import LineView
from ui.widgets.ruler import Ruler

if TYPE_CHECKING:
    from catalogue.shapes.piece import PieceDetail
    from catalogue.shapes.reading import CardId


class PieceSheet(QWidget):
    """Shows one piece; empty until one is chosen."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAutoFillBackground(True)
        self.setBackgroundRole(self.backgroundRole().Base)
        self._session = session
        self._what = ""
        self._wanted_byte: int | None = None
        self.detail: PieceDetail | None = None
        step = unit(self)
        self._store = ByteStore(session, self)
        self._lines = FieldLines(self)
        self.view = LineView(self._lines, self._store, self)
        self.ruler = Ruler(self)
        self._title = Words("", self, factor=1.25, bold=True)
        self._facts = Words("", self, soft=True)
        self._copy = Button("Copy its SHA-256", self, kind="small")
        self._copy.clicked.connect(self._copy_hash)
        self._foot = Words("", self)
        self._foot.setMinimumHeight(step * 5)
        self._foot.setAlignment(Qt.AlignmentFlag.AlignVCenter)
        self.seek = Entry(self)
        self.seek.setAccessibleName("Go to a byte, by its offset in hex")
        self.seek.setPlaceholderText("offset in hex")
        self.seek.setMaximumWidth(step * 18)
        self.seek.returnPressed.connect(self._seek)
        go = Words("Go to byte", self, soft=True)
        go.setWordWrap(False)
        go.setBuddy(self.seek)
        head = QVBoxLayout()
        head.setSpacing(step // 2)
        head.addWidget(self._title)
        facts = QHBoxLayout()
        facts.addWidget(self._facts, 1)
        facts.addWidget(self._copy)
        head.addLayout(facts)
        middle = QHBoxLayout()
        middle.setSpacing(step)
        middle.addWidget(self.ruler)
        middle.addWidget(self.view, 1)
        foot = QHBoxLayout()
        foot.setSpacing(step)
        foot.addWidget(self._foot, 1)
        foot.addWidget(go)
        foot.addWidget(self.seek)
        full = QWidget(self)
        column = QVBoxLayout(full)
        column.setContentsMargins(step * 2, step, step, step // 2)
        column.setSpacing(step)
        column.addLayout(head)
        column.addLayout(middle, 1)
        column.addLayout(foot)
        self._empty = Words("Choose a piece in the list to see what it is, byte by byte.", self, soft=True)
        self._empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._stack = QStackedLayout(self)
        self._stack.addWidget(self._empty)
        self._stack.addWidget(full)
        self.ruler.chosen.connect(self.go_to)
        self.view.moved.connect(self._tell_foot)
        self._store.arrived.connect(lambda: self._tell_foot(self.view.currentIndex().row()))

    @property
    def waiting(self) -> bool:
        """Whether a piece was asked for and is not here yet."""
        return self.detail is None and bool(self._what)

    def show_piece(self, what: str, at: int | None = None) -> None:
        """Show the piece called `what` (a hash or a path), standing on byte `at`."""
        if self.detail is not None and what == self._what:
            if at is not None:
                self.go_to(at)
            return
        self._what = what
        self._wanted_byte = at
        context = self._session.context
        self._session.lane("piece").ask(
            lambda stopper: _read(tasks.piece(context, what)), self._show, self._fail, instead_of="piece"
        )

    def look_again(self) -> None:
        """Read the piece shown again, for its places and vouching may have changed."""
        if self.detail is not None:
            what, at = self._what, self._lines.chosen
            self.detail = None
            self.show_piece(what, at if at >= 0 else None)

    def clear(self, words: str = "") -> None:
        """Show nothing, or a sentence."""
        self.detail = None
        self._what = ""
        self._empty.say(words or "Choose a piece in the list to see what it is, byte by byte.")
        self._stack.setCurrentIndex(0)

    def go_to(self, at: int) -> None:
        """Stand on byte `at`."""
        if self.view.go_to(at) >= 0:
            self.ruler.show_byte(at)

    def _show(self, read: tuple[PieceDetail, list, list]) -> None:  # type: ignore[type-arg]
        detail, lines, spans = read
        self.detail = detail
        info = detail.info
        self._store.show_piece(info.sha256 if self._what.startswith(info.sha256[:8]) else self._what, info.size)
        self.view.piece_size = info.size
        self._lines.show_lines(lines)
        self.ruler.show_spans(spans, info.size)
        self._title.say(text.plain(info.title or info.kind, 300))
        ids = ", ".join(dict.fromkeys(_card(one, detail) for one in info.ids[:4]))
        facts = [info.kind, text.size(info.size), *([f"for {ids}"] if ids else [])]
        self._copy.setText(f"Copy SHA-256 {text.short_hash(info.sha256)}…")
        self._facts.say(" · ".join(facts))
        self._foot.say("")
        self._stack.setCurrentIndex(1)
        if self._wanted_byte is not None:
            self.go_to(self._wanted_byte)
        else:
            self.view.scrollToTop()

    def _fail(self, sentence: str) -> None:
        self.clear(sentence)
        self._session.trouble(sentence)

    def _tell_foot(self, row: int) -> None:
        if not 0 <= row < len(self._lines.lines):
            return
        line = self._lines.lines[row]
        parts = [f"{line.name}: {line.value}" if line.value else line.name]
        at = self._lines.chosen
        if line.has_bytes and line.covers(at):
            value = self._store.peek(at)
            shown = "not here yet" if value is None else f"{value:02X}h, {value}"
            if value is not None and 0x20 <= value < 0x7F:
                shown += f", the letter {chr(value)}" if chr(value).isalnum() else f", the sign {chr(value)}"
            parts.append(f"Byte {text.offset(at)} is {shown}")
            self.ruler.show_byte(at)
        if line.source:
            parts.append(f"From {line.source}")
        if self._store.trouble:
            parts.append(self._store.trouble)
        self._foot.say(". ".join(parts))

    def _seek(self) -> None:
        typed = self.seek.text().strip().lower().removeprefix("0x").removesuffix("h").replace(" ", "")
        size = self.detail.info.size if self.detail else 0
        try:
            at = int(typed, 16)
        except ValueError:
            self._session.say("caution", "An offset is written in hex, such as 1C or 1Ch.")
            return
        if at >= size:
            self._session.say("caution", f"The piece ends at {text.offset(size)}; choose an offset before that.")
            return
        self.go_to(at)
        self.view.setFocus()

    def _copy_hash(self) -> None:
        if self.detail is not None:
            QGuiApplication.clipboard().setText(self.detail.info.sha256)
            self._session.say("note", "Copied the SHA-256.")


def _card(one: CardId, detail: PieceDetail) -> str:
    names = detail.id_names or {}
    vendor, pair = f"{one.vendor:04x}", f"{one.vendor:04x}:{one.device:04x}"
    said = [f"{one.vendor:04X}:{one.device:04X}", names.get(vendor, ""), names.get(pair, "")]
    return " ".join(text.plain(part, 60) for part in said if part)


def _read(detail: PieceDetail) -> tuple[PieceDetail, list, list]:  # type: ignore[type-arg]
    return detail, lines_of(detail), spans_of(detail)
