"""What a page is: a title, a way to build it, and how it takes news."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QWidget

from catalogue.shapes.changes import Changes
from ui.session import Open, Session


class PageWidget(QWidget):
    """One page of the window. `told` carries the one line of news that its plate shows."""

    told = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session

    def refresh(self, changes: Changes) -> None:
        """Look again at whatever of `changes` this page shows."""
        raise NotImplementedError

    def open(self, wish: Open) -> None:
        """Show what `wish` asks for."""
        raise NotImplementedError

    def start(self) -> None:
        """Look at the catalogue for the first time, once the page is built."""

    def take_paths(self, paths: Sequence[str]) -> None:
        """Take files and folders that were dropped on the window."""


def _refresh(page: PageWidget, changes: Changes) -> None:
    page.refresh(changes)


@dataclass(frozen=True, slots=True)
class Page:
    """One row of the table of pages."""

    title: str
    build: Callable[[Session], PageWidget]
    refresh: Callable[[PageWidget, Changes], None] = _refresh
