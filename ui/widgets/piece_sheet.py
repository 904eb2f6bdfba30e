"""The chosen piece: what it is, its ruler, its lines, and the byte a person stands on.

A part of it can be stepped into: then its own lines, ruler and bytes are shown, unpacked ones too, with a band over
them that leads back. A member of an archive opens its own piece; the same band leads back to the archive.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QGuiApplication, QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QStackedLayout, QVBoxLayout, QWidget

from ui import tasks, text
from ui.ages import sentence
from ui.look import unit
from ui.models.field_lines import FieldLines
from ui.models.long_rows import LongRows, items_of
from ui.models.stand import Stand, stand_at, stand_on
from ui.models.ways import Way, layer_way
from ui.session import Session
from ui.widgets.basics import Button, Entry, Said, Words
from ui.widgets.byte_store import ByteStore
from ui.widgets.line_view import LineView
from ui.widgets.long_list import LongList
from ui.widgets.ruler import Ruler
from ui.widgets.way_bar import WayBar

if TYPE_CHECKING:
    from catalogue.shapes.piece import PieceDetail
    from catalogue.shapes.reading import CardId
    from ui.jobs import Stopper


MOST_AGES = 4


@dataclass(frozen=True, slots=True)
class _Came:
    """The piece and stand that a member was opened from."""

    what: str
    way: Way
    at: int | None
    title: str


class PieceSheet(QWidget):
    """Shows one piece; empty until one is chosen. `read` carries its SHA-256 and title, "" when it shows nothing."""

    read = Signal(str, str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAutoFillBackground(True)
        self.setBackgroundRole(self.backgroundRole().Base)
        self._session = session
        self._what = ""
        self.detail: PieceDetail | None = None
        self.stand: Stand | None = None
        self._long = ""
        self._came: list[_Came] = []
        step = unit(self)
        self._store = ByteStore(session, self)
        self._lines = FieldLines(self)
        self.view = LineView(self._lines, self._store, self)
        self.rows = LongRows(self)
        self.list = LongList(self.rows, self)
        self.way = WayBar(self)
        self.ruler = Ruler(self)
        self._title = Words("", self, factor=1.25, bold=True)
        self._facts = Words("", self, soft=True)
        self.old = Said("stale", "", self)
        self.old.hide()
        session.ages.changed.connect(self._tell_age)
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
        head.addWidget(self.old)
        middle = QHBoxLayout()
        middle.setSpacing(step)
        middle.addWidget(self.ruler)
        self._shown = QStackedLayout()
        self._shown.addWidget(self.view)
        self._shown.addWidget(self.list)
        middle.addLayout(self._shown, 1)
        asked = QHBoxLayout()
        asked.addStretch(1)
        asked.addWidget(go)
        asked.addWidget(self.seek)
        foot = self._foot_row = QHBoxLayout()
        foot.setSpacing(step // 2)
        foot.addWidget(self._foot, 1)
        foot.addLayout(asked)
        full = QWidget(self)
        column = QVBoxLayout(full)
        column.setContentsMargins(step * 2, step, step, step // 2)
        column.setSpacing(step)
        column.addLayout(head)
        column.addWidget(self.way)
        column.addLayout(middle, 1)
        column.addLayout(foot)
        self._empty = Words("Choose a piece in the list to see what it is, byte by byte.", self, soft=True)
        self._empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._stack = QStackedLayout(self)
        self._stack.addWidget(self._empty)
        self._stack.addWidget(full)
        self.ruler.chosen.connect(self.go_to)
        self.ruler.entered.connect(self.step_in)
        self.view.moved.connect(self._tell_foot)
        self.view.entered.connect(self.step_in)
        self.view.opened.connect(self.open_member)
        self.view.listed.connect(self.show_long)
        self.list.opened.connect(self.open_member)
        self.list.moved.connect(self._tell_row)
        self.way.back.connect(self.step_out)
        self.way.all_back.connect(lambda: self.step_in(()))
        self._store.arrived.connect(lambda: self._tell_foot(self.view.currentIndex().row()))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the new room between the ruler and the lines."""
        super().resizeEvent(event)
        self._fit()

    def changeEvent(self, event: QEvent) -> None:
        """The same for a new text size."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.ApplicationFontChange) and hasattr(self, "_stack"):
            self._fit()

    def _fit(self) -> None:
        self.ruler.fit(self.width())
        roomy = self.width() > unit(self) * 60
        way = QBoxLayout.Direction.LeftToRight if roomy else QBoxLayout.Direction.TopToBottom
        self._foot_row.setDirection(way)
        self._foot.setMinimumHeight(unit(self) * (5 if roomy else 2))
        self._tell_copy()

    def _tell_copy(self) -> None:
        roomy = self.width() > unit(self) * 60 and self.detail is not None
        short = text.short_hash(self.detail.info.sha256) if self.detail is not None else ""
        self._copy.setText(f"Copy SHA-256 {short}…" if roomy else "Copy SHA-256")

    def _tell_age(self) -> None:
        """Say what is old about the piece, for which family, and as of which day that is known."""
        if self.detail is None:
            return
        known = self._session.ages.of_piece(self.detail.info.sha256)
        self.old.setVisible(bool(known))
        if known:
            word = self._session.ages.word_for(self.detail.info.sha256)
            self.old.say(word, "\n".join(sentence(one) for one in known[:MOST_AGES]))

    @property
    def waiting(self) -> bool:
        """Whether a piece was asked for and is not here yet."""
        return self.detail is None and bool(self._what)

    def show_piece(self, what: str, at: int | None = None) -> None:
        """Show the piece called `what` (a hash or a path), standing on byte `at`."""
        if self.detail is not None and what == self._what:
            if at is not None:
                self._ask(self.detail, None, at)
            return
        self._came.clear()
        self._read(what, at)

    def look_again(self) -> None:
        """Read the piece shown again, for its places and vouching may have changed."""
        if self.detail is not None:
            what, at = self._what, self._lines.chosen
            way = self.stand.way if self.stand is not None else ()
            self.detail = None
            self._read(what, at if at >= 0 else None, way)

    def clear(self, words: str = "") -> None:
        """Show nothing, or a sentence."""
        self.detail = None
        self.stand = None
        self._what = ""
        self._came.clear()
        self.read.emit("", "")
        self._empty.say(words or "Choose a piece in the list to see what it is, byte by byte.")
        self._stack.setCurrentIndex(0)

    def go_to(self, at: int) -> None:
        """Stand on byte `at` of the bytes that are shown, stepping out where they do not reach so far."""
        if self.view.go_to(at) >= 0:
            self.ruler.show_byte(at)
        elif self.detail is not None and self.stand is not None and self.stand.way != self.stand.layer:
            self._ask(self.detail, self.stand.layer, at)

    def step_in(self, way: Way, at: int | None = None) -> None:
        """Show the part at `way` by itself; () is the whole piece."""
        if self.detail is not None:
            self._ask(self.detail, way, at)

    def step_out(self) -> None:
        """Back to what lies round the part, or to the archive that a member was opened from."""
        if self._long:
            self._long = ""
            self._show_way()
            self.view.setFocus()
        elif self.stand is not None and self.stand.way:
            self.step_in(self.stand.way[:-1])
        elif self._came:
            came = self._came.pop()
            self._read(came.what, came.at, came.way)

    def show_long(self, long: str, way: Way) -> None:
        """Show one of a reading's long lists: members, entries, versions or dates."""
        if self.detail is None:
            return
        items, made = items_of(self.detail, long, way)
        self._long = long
        self.rows.show_items(items, made)
        self.list.setAccessibleDescription(text.count(len(items), "row"))
        self._show_way()
        self.list.selectRow(0)
        self.list.setFocus()

    def open_member(self, name: str) -> None:
        """Show the piece that a member of this archive is."""
        detail, context = self.detail, self._session.context
        if detail is None:
            return
        stand = self.stand
        came = _Came(self._what, stand.way if stand is not None else (), None, text.last_name(_place(detail)))

        def found(sha256: str) -> None:
            if self.detail is detail:
                self._came.append(came)
                self._read(sha256, None)

        self._session.lane("piece").ask(
            lambda stopper: tasks.member(context, detail.info.sha256, name), found, self._session.trouble,
            instead_of="piece",
        )  # fmt: skip

    def _read(self, what: str, at: int | None, way: Way = ()) -> None:
        self._what = what
        context = self._session.context

        def work(stopper: Stopper) -> tuple[PieceDetail, Stand]:
            detail = tasks.piece(context, what)
            stand = self._made(detail, what, way, at, None)
            return detail, stand or stand_at(detail, (), None, context.today)

        self._session.lane("piece").ask(work, lambda made: self._show(*made, at), self._fail, instead_of="piece")

    def _ask(self, detail: PieceDetail, way: Way | None, at: int | None) -> None:
        """Show another stand in the same piece; without `way` the one that byte `at` is best seen from."""
        what, known = self._what, self.stand

        def done(stand: Stand | None) -> None:
            if stand is None:
                self._session.trouble("These bytes do not unpack any more: the piece has changed. Index it again.")
            elif self.detail is detail:
                self._show(detail, stand, at)

        if known is not None and known.data is not None:
            self._foot.say("Unpacking.")
        self._session.lane("piece").ask(
            lambda stopper: self._made(detail, what, way, at, known), done, self._session.trouble, instead_of="piece"
        )

    def _made(
        self, detail: PieceDetail, what: str, way: Way | None, at: int | None, known: Stand | None
    ) -> Stand | None:
        """The stand at `way`, in a lane's thread. None where its bytes do not unpack."""
        context = self._session.context
        if at is not None and not way:
            return stand_on(detail, at, context.today)
        way = way or ()
        try:
            layer = layer_way(detail.reading, way)
        except IndexError:
            return None
        if not layer:
            return stand_at(detail, way, None, context.today)
        data = known.data if known is not None and known.layer == layer else None
        if data is None:
            data = tasks.part_bytes(context, what, detail.reading, layer)
        return None if data is None else stand_at(detail, way, data, context.today)

    def _show(self, detail: PieceDetail, stand: Stand, at: int | None) -> None:
        before, known = self.stand, self.detail
        self.detail, self.stand, self._long = detail, stand, ""
        info = detail.info
        if stand.data is not None:
            self._store.show_bytes(stand.data)
        elif known is not detail or before is None or before.data is not None:
            self._store.show_piece(info.sha256 if self._what.startswith(info.sha256[:8]) else self._what, info.size)
        self.view.piece_size = info.size if stand.data is None else len(stand.data)
        self.view.bounds = (stand.start, stand.end)
        self._lines.show_lines(stand.lines)
        self.ruler.show_spans(stand.stretches, stand.end - stand.start, stand.start, unpacked=stand.unpacked)
        self._title.say(text.plain(info.title or info.kind, 300))
        self.read.emit(info.sha256, info.title or info.kind)
        ids = ", ".join(dict.fromkeys(_card(one, detail) for one in info.ids[:4]))
        facts = [info.kind, text.size(info.size), *([f"for {ids}"] if ids else [])]
        self._tell_copy()
        self._tell_age()
        self._facts.say(" · ".join(facts))
        self._foot.say("")
        self._show_way()
        self._stack.setCurrentIndex(1)
        if at is not None:
            self.go_to(at)
        elif known is detail and before is not None and before.way[: len(stand.way)] == stand.way != before.way:
            self._stand_on_part(before.way[: len(stand.way) + 1])
        else:
            self.view.scrollToTop()

    def _stand_on_part(self, way: Way) -> None:
        """After stepping out: stand on the line that led in."""
        for row, line in enumerate(self._lines.lines):
            if line.way == way:
                self.view.setCurrentIndex(self._lines.index(row))
                return
        self.view.scrollToTop()

    def _show_way(self) -> None:
        stand = self.stand
        if stand is None:
            return
        titles = list(stand.titles[1:])
        if self._long:
            titles = [*titles, text.count(self.rows.rowCount(), self._long[:-1], self._long)]
        came = self._came[-1].title if self._came else ""
        self.way.show_way(titles, unpacked=stand.unpacked, came_from=came)
        self._shown.setCurrentIndex(1 if self._long else 0)

    def _fail(self, sentence: str) -> None:
        self.clear(sentence)
        self._session.trouble(sentence)

    def _tell_row(self, row: int) -> None:
        if self._long and 0 <= row < self.rows.rowCount():
            said = self.rows.row(row)
            more = "; Enter opens it" if said.link else ""
            self._foot.say(f"{said.upper}. {said.lower}{more}")

    def _tell_foot(self, row: int) -> None:
        if not 0 <= row < len(self._lines.lines):
            return
        line = self._lines.lines[row]
        parts = [f"{line.name}: {line.value}" if line.value else line.name]
        at = self._lines.chosen
        if line.covers(at):
            value = self._store.peek(at)
            shown = "not here yet" if value is None else f"{value:02X}h, {value}"
            if value is not None and 0x20 <= value < 0x7F:
                shown += f", the letter {chr(value)}" if chr(value).isalnum() else f", the sign {chr(value)}"
            kind = "Unpacked byte" if self.stand is not None and self.stand.unpacked else "Byte"
            parts.append(f"{kind} {text.offset(at)} is {shown}")
            self.ruler.show_byte(at)
        if line.source:
            parts.append(f"From {line.source}")
        if line.action:
            parts.append(f"Enter: {line.action.lower()}")
        if self._store.trouble:
            parts.append(self._store.trouble)
        self._foot.say(". ".join(parts))

    def _seek(self) -> None:
        typed = self.seek.text().strip().lower().removeprefix("0x").removesuffix("h").replace(" ", "")
        size = self.view.piece_size if self.detail else 0
        try:
            at = int(typed, 16)
        except ValueError:
            self._session.say("caution", "An offset is written in hex, such as 1C or 1Ch.")
            return
        if at >= size:
            what = "The unpacked bytes end" if self.stand is not None and self.stand.unpacked else "The piece ends"
            self._session.say("caution", f"{what} at {text.offset(size)}; choose an offset before that.")
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


def _place(detail: PieceDetail) -> str:
    return str(detail.info.places[0]) if detail.info.places else detail.info.title
