"""What a person knows of one machine; every fact may stay not known."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QEvent, Signal
from PySide6.QtWidgets import QComboBox, QVBoxLayout, QWidget

from catalogue.shapes.host_form import MachineFacts
from ui.look import unit
from ui.widgets.basics import Sheet, Words
from ui.widgets.held_files import HeldFiles
from ui.widgets.one_of import OneOf

NOT_KNOWN = "not known"
WAYS = (("", NOT_KNOWN), ("legacy", "legacy"), ("uefi", "UEFI"), ("legacy uefi", "both"))
SECURE = (("", NOT_KNOWN), ("off", "off"), ("on", "on"))
MOST_LISTS = 32


class MachineForm(Sheet):
    """`changed` whenever a person changes a fact."""

    changed = Signal()

    def __init__(
        self,
        title: str,
        does: str,
        cpus: Sequence[str],
        look: Callable[[HeldFiles, Path, bool], None],
        parent: QWidget,
    ) -> None:
        super().__init__(parent)
        about = f"of {title}"
        step = unit(self)
        self.column.addWidget(Words(title[:1].upper() + title[1:], self, factor=1.15, bold=True))
        self.column.addWidget(Words(does, self, soft=True))
        self.cpu = QComboBox(self)
        self.cpu.setAccessibleName(f"Processor {about}")
        self.cpu.setMinimumHeight(step * 4)
        self.cpu.addItem(NOT_KNOWN, "")
        for one in cpus:
            self.cpu.addItem(one, one)
        self.cpu.activated.connect(lambda at: self.changed.emit())
        self.ways = OneOf("It starts by", WAYS, about, self)
        self.secure = OneOf("Secure Boot is", SECURE, about, self)

        def listed(question: str, add: str, most: int, esrt: bool) -> HeldFiles:
            return HeldFiles(question, about, add, lambda held, file: look(held, file, esrt), self, most=most)

        self.db = listed("Allowed (db), saved lists", "Add a list", MOST_LISTS, False)
        self.dbx = listed("Revoked (dbx), saved lists", "Add a list", MOST_LISTS, False)
        self.esrt = listed("Update table (ESRT), saved", "Choose a file", 1, True)
        asked = QVBoxLayout()
        asked.setSpacing(0)
        asked.addWidget(Words("Processor", self, soft=True))
        asked.addWidget(self.cpu)
        self.column.addLayout(asked)
        for question in (self.ways, self.secure):
            question.taken.connect(lambda key: self.changed.emit())
            self.column.addWidget(question)
        for held in (self.db, self.dbx, self.esrt):
            held.changed.connect(self.changed)
            self.column.addWidget(held)
        self.column.addStretch(1)

    def show_facts(self, facts: MachineFacts) -> None:
        """Show what is told of the machine."""
        self.cpu.setCurrentIndex(max(0, self.cpu.findData(facts.cpu)))
        self.ways.take(" ".join(facts.boots) if set(facts.boots) <= {"legacy", "uefi"} else "")
        self.secure.take("" if facts.secure_boot is None else "on" if facts.secure_boot else "off")
        self.db.show_files(facts.db)
        self.dbx.show_files(facts.dbx)
        self.esrt.show_files(() if facts.esrt is None else (facts.esrt,))

    @property
    def facts(self) -> MachineFacts:
        """What the form says now."""
        return MachineFacts(
            cpu=str(self.cpu.currentData() or ""),
            boots=tuple(self.ways.key.split()),
            secure_boot={"on": True, "off": False}.get(self.secure.key),
            db=self.db.files,
            dbx=self.dbx.files,
            esrt=next(iter(self.esrt.files), None),
        )

    @property
    def trouble(self) -> str:
        """Why one of its files cannot be used; "" where all can."""
        return next((one.trouble for one in (self.db, self.dbx, self.esrt) if one.trouble), "")

    def changeEvent(self, event: QEvent) -> None:
        """Grow with the text."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.ApplicationFontChange) and hasattr(self, "cpu"):
            self.cpu.setMinimumHeight(unit(self) * 4)
