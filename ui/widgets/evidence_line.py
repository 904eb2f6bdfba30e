"""One piece of evidence: what was found and what was wanted, where, and a button that leads there."""

from __future__ import annotations

import re

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from catalogue.shapes.finding import Evidence
from ui import text
from ui.widgets.basics import Button, Words

_LINE = re.compile(r":\d+$")


def opens(one: Evidence) -> str:
    """What the button says that leads to what `one` speaks of."""
    if one.place.startswith("pin "):
        return "Show who pinned it"
    if one.place.startswith("the ") and one.place.endswith(" host"):
        return "Tell of the host"
    if one.offset is not None:
        return "Show the bytes"
    return "Show the line" if _LINE.search(one.place) else "Show it"


class EvidenceLine(QWidget):
    """Says it in two lines; `wanted` carries the evidence when a person wants to see it."""

    wanted = Signal(object)

    def __init__(self, one: Evidence, parent: QWidget) -> None:
        super().__init__(parent)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(1)
        parts = []
        if one.field:
            dotted = "." in one.field or "[" in one.field
            parts.append(text.plain(one.field) if dotted else text.name_of(one.field))
        if one.offset is not None:
            parts.append(f"at {text.offset(one.offset)}")
        said = "; ".join(
            part
            for part in (
                " ".join(parts),
                f"wanted {text.short_digests(text.plain(one.want, 200))}" if one.want else "",
                f"found {text.short_digests(text.plain(one.have, 200))}" if one.have else "",
            )
            if part
        )
        place = text.short_digests(text.short_place(one.place))
        column.addWidget(Words(text.begun(said) if said else place, self))
        if said:
            where = Words(place, self, soft=True, factor=0.9)
            where.setToolTip(text.tip(one.place))
            column.addWidget(where)
        self.button = Button(opens(one), self, kind="small")
        self.button.setAccessibleDescription(f"{text.begun(said)}, in {place}" if said else place)
        self.button.clicked.connect(lambda: self.wanted.emit(one))
        row = QHBoxLayout()
        row.addWidget(self.button)
        row.addStretch(1)
        column.addLayout(row)
