"""The foot of a form: what is to be done first, the way out, and the one thing the form does."""

from __future__ import annotations

from PySide6.QtWidgets import QDialog, QHBoxLayout, QVBoxLayout

from ui.look import unit
from ui.widgets.basics import Button, Words


def put_foot(form: QDialog, column: QVBoxLayout, what: str, *, steps_high: int) -> tuple[Words, Button]:
    """Put it under `column` and size the form within its parent's window: the words, and the button called `what`."""
    row = QHBoxLayout()
    first = Words("", form, soft=True, factor=0.9)
    row.addWidget(first, 1)
    leave = Button("Leave it", form)
    leave.clicked.connect(form.reject)
    do = Button(what, form, keys="Ctrl+Return", kind="next")
    row.addWidget(leave)
    row.addWidget(do)
    column.addLayout(row)
    over = form.parentWidget()
    assert over is not None
    step, room = unit(form), over.window().size()
    form.resize(min(room.width() - step * 4, step * 150), min(room.height() - step * 4, step * steps_high))
    return first, do
