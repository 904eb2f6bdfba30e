"""What is said of a line is never cut off: it takes as many rows as it needs, at any width."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QRect
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QStyleOptionViewItem

from ui.look import sized
from ui.models.field_lines import FieldLines
from ui.models.lines import Line
from ui.widgets.byte_store import ByteStore
from ui.widgets.line_view import WRAPPED, LineView

LONG = "A section's size does not fit its file; what follows in it is not read, nor is what lies behind it."
LINES = (
    Line("stop", "volume-damaged", "", LONG, mark="stop"),
    Line("note", "archive-odd", "", LONG, 4, 1, mark="note"),
    Line("field", "flags", "40,960 (A000h)", LONG, 8, 4, where="at 0008h, 4 bytes"),
    Line("field", "capsule guid", "6DCBD5ED-E82D-4C44-BDA1-7194199AD92A", LONG, 8, 16, where="at 0008h, 16 bytes"),
    Line("member", "lib/b", "", LONG, mark="stop", link="lib/b"),
    Line("part", "volume 0", "", LONG, depth=2, way=(0,), where="at 0000h, 512 bytes"),
)


@pytest.fixture
def view(qtbot, world):
    lines = FieldLines()
    made = LineView(lines, ByteStore(world.session))
    qtbot.addWidget(made)
    made.show()
    return made


@pytest.mark.parametrize("wide", [240, 420, 900])
@pytest.mark.parametrize("line", LINES, ids=lambda line: line.name)
def test_a_long_meaning_has_all_the_rows_it_needs(view, line, wide):
    """At the list's whole width it would need so many rows; beside marks, places and plates it needs no fewer."""
    view.resize(wide, 600)
    heights = []
    for meaning in ("short", LONG):
        view.lines.show_lines([replace(line, meaning=meaning)])
        heights.append(view.itemDelegate().sizeHint(QStyleOptionViewItem(), view.lines.index(0)).height())
    small = QFontMetrics(sized(view.font(), 0.85))
    needed = small.boundingRect(QRect(0, 0, wide, 4_000), WRAPPED, LONG).height()
    assert heights[1] - heights[0] >= needed - QFontMetrics(view.font()).height()
    assert needed > small.height() or wide == 900
