"""What is stale or withdrawn, for every page: asked anew when pieces, families or media changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from catalogue.shapes.changes import Changes
from ui import tasks, text

if TYPE_CHECKING:
    from catalogue.shapes.results import Stale
    from ui.session import Session

OLD = ("stale", "withdrawn")


class Ages(QObject):
    """`changed` when what is known has changed. Until the first answer, and where it failed, nothing is known."""

    changed = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self._session = session
        self._asked = False
        self._pieces: dict[str, tuple[Stale, ...]] = {}
        self._written: tuple[Stale, ...] = ()
        session.changed.connect(self._changed)

    def look(self) -> None:
        """Ask; pages that show ages hear of the answer by `changed`."""
        self._asked = True
        context = self._session.context
        self._session.lane("ages").ask(
            lambda stopper: tasks.stale(context, stopper), self._take, lambda sentence: None, instead_of="ages"
        )

    def of_piece(self, sha256: str) -> tuple[Stale, ...]:
        """What is old about a piece, for each family and role it is old in."""
        return self._pieces.get(sha256, ())

    def word_for(self, sha256: str) -> str:
        """ "withdrawn", "stale", or "" for neither."""
        ages = {one.age for one in self.of_piece(sha256)}
        return next((word for word in reversed(OLD) if word in ages), "")

    def written(self, *, family: str = "", kit: str = "", target: str = "") -> tuple[Stale, ...]:
        """What is old in the kits that were written, of one family, one kit, one target."""
        return tuple(
            one
            for one in self._written
            if family in ("", one.family) and kit in ("", one.kit) and target in ("", one.target)
        )

    def counted(self) -> str:
        """How many pieces are old, in words; "" where none is."""
        words = [self.word_for(sha256) for sha256 in self._pieces]
        parts = [f"{words.count(word):,} {word}" for word in OLD if word in words]
        return " and ".join(parts)

    def _changed(self, changes: Changes) -> None:
        if self._asked and (changes.pieces or changes.families or changes.media):
            self.look()

    def _take(self, rows: list[Stale]) -> None:
        pieces: dict[str, list[Stale]] = {}
        for one in rows:
            if not one.kit:
                pieces.setdefault(one.piece, []).append(one)
        self._pieces = {sha256: tuple(found) for sha256, found in pieces.items()}
        self._written = tuple(one for one in rows if one.kit)
        self.changed.emit()


def sentence(one: Stale) -> str:
    """What is old about it, in one sentence that says as of which day."""
    has = text.plain(one.has, 60) or "a version that is not read"
    newest = f"; the newest known is {text.plain(one.newest, 60)}" if one.newest else ""
    return (
        f"{text.begun(one.age)} for {text.plain(one.family, 60)}, {text.name_of(one.role)}: it is {has}{newest}; "
        f"{text.plain(one.why, 300)}. Known as of {one.as_of.isoformat()}."
    )
