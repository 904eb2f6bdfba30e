"""Hostile names from a real archive in the real window: every text that it shows has them escaped."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QSettings, Qt
from PySide6.QtWidgets import QAbstractButton, QAbstractItemView, QLabel, QLineEdit, QWidget

from catalogue.tasks import index, pieces
from catalogue.tasks.context import Context
from tests.contracts.hostile_names import ARCHIVES, LONG, MARKS
from ui.session import Open, Session
from ui.window import Window

LONG_WAIT = 30_000
ROLES = (
    Qt.ItemDataRole.DisplayRole,
    Qt.ItemDataRole.ToolTipRole,
    Qt.ItemDataRole.AccessibleTextRole,
    Qt.ItemDataRole.AccessibleDescriptionRole,
)


def texts(window: QWidget) -> list[str]:
    """All texts of all widgets: labels, buttons, fields, tips, what is read aloud, and the cells of lists."""
    out = []
    for one in (window, *window.findChildren(QWidget)):
        out += [one.windowTitle(), one.toolTip(), one.accessibleName(), one.accessibleDescription()]
        if isinstance(one, QLabel | QAbstractButton | QLineEdit):
            out.append(one.text())
        if isinstance(one, QAbstractItemView) and (model := one.model()) is not None:
            top = QModelIndex()  # a list is a model without columns of its own
            cells = (model.index(row, 0, top) for row in range(model.rowCount(top)))
            out += [said for cell in cells for role in ROLES if isinstance(said := cell.data(role), str)]
    return out


def test_the_window_shows_them_escaped(tmp_path, qtbot):
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "hostile.zip").write_bytes(ARCHIVES["zip"]())
    context = Context(str(tmp_path / "catalogue.db"))
    index.run(context, [folder])
    settings = QSettings(str(tmp_path / "window.ini"), QSettings.Format.IniFormat)
    window = Window(Session(context, settings))
    qtbot.addWidget(window)
    window.resize(1366, 768)
    window.show()
    window.start()
    shelf = window.page(0)
    every = pieces.run(context)
    qtbot.waitUntil(lambda: shelf.table.rowCount() == len(every), timeout=LONG_WAIT)
    seen = []
    for one in every:
        shelf.open(Open("Shelf", piece=one.sha256))
        qtbot.waitUntil(lambda one=one: _shown(shelf) == one.sha256, timeout=LONG_WAIT)
        seen += texts(shelf.sheet)
    window.grab()
    seen += texts(window)
    window.close()
    whole = "\n\n".join(seen)
    assert "up.bin" in whole, "the names are shown"
    assert "\\u202e" in whole
    assert "\\x1b" in whole
    for mark in MARKS.replace("\n", ""):
        assert mark not in whole, repr(mark)
    assert "line\nend.bin" not in whole
    assert LONG not in whole


def _shown(shelf) -> str:
    return shelf.sheet.detail.info.sha256 if shelf.sheet.detail is not None else ""
