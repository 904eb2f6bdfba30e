"""For which machines a kit is judged: none told of, or a host that is kept, by its name."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtWidgets import QComboBox, QWidget

from catalogue.shapes.results import HostInfo
from ui import text
from ui.look import unit

NONE = "No machine told of"
INFO_ROLE = Qt.ItemDataRole.UserRole + 1


class HostPick(QComboBox):
    """`picked` carries the host's name, "" for none."""

    picked = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("The machines this kit is for")
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(12)
        self.setMinimumHeight(unit(self) * 4)
        self.hosts: tuple[HostInfo, ...] = ()
        self.addItem(NONE, "")
        self.activated.connect(lambda at: self.picked.emit(self.host))

    @property
    def host(self) -> str:
        """The name that is picked, "" for none."""
        return str(self.currentData() or "")

    def show_hosts(self, hosts: Sequence[HostInfo], taken: str = "") -> None:
        """Offer these hosts; `taken`, or the one that was picked, stays."""
        kept = taken or self.host
        self.hosts = tuple(hosts)
        self.clear()
        self.addItem(NONE, "")
        for one in hosts:
            if one.problems:
                self.addItem(f"{text.plain(one.name, 60)}: its file has an error", "")
            else:
                self.addItem(text.plain(one.name, 80), one.name)
            self.setItemData(self.count() - 1, one, INFO_ROLE)
        self.setCurrentIndex(max(0, self.findData(kept)) if kept else 0)

    @property
    def info(self) -> HostInfo | None:
        """The host that is picked, sound or not; None for none."""
        found = self.currentData(INFO_ROLE)
        return found if isinstance(found, HostInfo) else None

    def changeEvent(self, event: QEvent) -> None:
        """Grow with the text."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.ApplicationFontChange):
            self.setMinimumHeight(unit(self) * 4)
