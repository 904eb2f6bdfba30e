"""The ruler to scale, the ruled strip and its bytes, shapes for every state, findings and roles in words."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QPoint, QRect, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QImage, QPainter
from PySide6.QtTest import QTest

from tests.ui.world import FINDINGS, KIT, PADDED, READY, ROM_SHA
from ui import look
from ui.models.lines import Line
from ui.models.stretches import Stretch
from ui.tasks import Named
from ui.widgets import marks, tape
from ui.widgets.basics import Button
from ui.widgets.finding_list import FindingList
from ui.widgets.kit_view import VerdictFoot
from ui.widgets.role_rows import RoleRow, RoleRows
from ui.widgets.ruler import Ruler

STATES = (
    *("stop", "caution", "note", "good", "yes", "no", "silent", "current", "stale", "withdrawn", "unknown"),
    *("signed", "named", "ran", "agreed", "neighbour", "none"),
)


@pytest.fixture
def ruler(qtbot):
    made = Ruler()
    qtbot.addWidget(made)
    made.resize(200, 500)
    made.show_spans(
        [Stretch("image 1", 0, 1_000), Stretch("padding", 1_000, 3_000), Stretch("image 2", 4_000, 10)], 4_010
    )
    return made


def test_the_ruler_is_to_scale(ruler):
    boxes = [ruler.span_box(span) for span in ruler.spans]
    bar = ruler.bar()
    assert boxes[0].height() == pytest.approx(bar.height() * 1_000 / 4_010)
    assert boxes[1].top() == pytest.approx(boxes[0].bottom())
    assert boxes[2].bottom() == pytest.approx(bar.top() + bar.height())
    assert boxes[2].height() < 2  # small stays small; its words say what it is


def test_the_rulers_words_never_overlap_and_stay_inside(ruler):
    ruler.show_spans([Stretch(f"s{n}", n * 3, 3) for n in range(400)], 1_200)
    middles = [middle for _, middle in ruler.labels()]
    assert len(middles) > 5
    tall = min(b - a for a, b in pairwise(middles))
    assert tall >= ruler.fontMetrics().height()
    assert min(middles) >= 0
    assert max(middles) <= ruler.height()


def test_a_press_on_the_ruler_chooses_the_byte_there(ruler, qtbot):
    box = ruler.span_box(ruler.spans[1])
    with qtbot.waitSignal(ruler.chosen) as heard:
        QTest.mouseClick(ruler, Qt.MouseButton.LeftButton, pos=QPoint(ruler.bar().center().x(), int(box.center().y())))
    assert abs(heard.args[0] - 2_500) < 20


def test_the_ruler_is_walked_by_keys_and_read_aloud(ruler, qtbot):
    heard = []
    ruler.chosen.connect(heard.append)
    ruler.chosen.connect(ruler.show_byte)
    for _ in range(4):
        QTest.keyClick(ruler, Qt.Key.Key_Down)
    QTest.keyClick(ruler, Qt.Key.Key_Up)
    assert heard == [0, 1_000, 4_000, 4_000, 1_000]
    assert "padding at 03E8h, 3,000 bytes" in ruler.accessibleDescription()


@given(
    st.integers(0, 5_000), st.integers(1, 6_000), st.integers(1, 6_000), st.integers(-1, 6_000), st.integers(60, 900)
)
def test_a_strip_shows_its_own_bytes_and_the_byte_stood_on(qapp_font, start, length, size, chosen, width):
    if start >= size:
        return
    line = Line("field", "x", offset=start, length=length)
    laid = tape.lay(QRect(5, 5, width, 40), line, size, chosen, qapp_font)
    assert laid.first >= 0
    assert laid.first + laid.count <= size or laid.count <= 4
    end = min(start + length, size)
    if start <= chosen < end and laid.first + laid.count <= size:
        assert laid.first <= chosen < laid.first + laid.count
        middle = laid.cell_box(chosen).center()
        if laid.box.contains(middle):
            assert laid.byte_under(middle.x(), middle.y()) == chosen


@pytest.fixture(scope="module")
def qapp_font(qapp):
    return QFont(qapp.font())


def test_no_two_states_are_told_apart_by_colour_alone(qapp):
    """Drawn in one colour, states that stand in one column still differ; `yes` and `good` are the same tick."""

    def drawn(mark):
        image = QImage(32, 32, QImage.Format.Format_Grayscale8)
        image.fill(QColor("white"))
        painter = QPainter(image)
        one = look.Tones(**dict.fromkeys(look.Tones.__slots__, "#000000") | {"sheet": "#FFFFFF", "line": "#BBBBBB"})
        marks.draw(painter, QRectF(2, 2, 28, 28), mark, one)
        painter.end()
        return bytes(image.constBits())

    shapes = {mark: drawn(mark) for mark in STATES if mark != "good"}
    assert len(set(shapes.values())) == len(shapes)
    assert drawn("good") == shapes["yes"]


def test_findings_stand_in_order_and_offer_what_can_be_done(qtbot):
    shown = FindingList()
    qtbot.addWidget(shown)
    shown.show_findings(reversed(FINDINGS))
    assert [one.level.value for one in shown.findings] == ["stop", "stop", "caution", "caution", "note"]
    wanted = []
    shown.evidence_wanted.connect(lambda evidence, piece: wanted.append((piece, evidence.offset)))
    words = []
    shown.word_wanted.connect(words.append)
    for button in shown.findChildren(Button):
        button.click()
    assert (ROM_SHA, 0x22) in wanted
    assert [one.code for one in words] == ["unvouched"]


def test_a_place_without_words_gives_no_word_button(qtbot):
    shown = FindingList(words=False)
    qtbot.addWidget(shown)
    shown.show_findings(FINDINGS)
    assert "Give your word" not in [one.text() for one in shown.findChildren(Button)]


def test_a_role_says_its_answers_in_words_and_opens_its_others(qtbot):
    rows = RoleRows()
    qtbot.addWidget(rows)
    rows.show_kit(KIT, {ROM_SHA: Named("QHBOOT.ROM", "PCI option ROM", "/a/b.zip › c.rom")})
    found = {row.choice.role: row for row in rows.findChildren(RoleRow)}
    assert list(found) == ["firmware", "eeprom-image", "writer", "uefi-boot-rom"]
    assert found["eeprom-image"].accessibleName() == (
        "EEPROM image: QHBOOT.ROM, version unknown, fit yes, vouched neighbour, age unknown"
    )
    row = found["uefi-boot-rom"]
    pins = []
    rows.pin_wanted.connect(lambda *a: pins.append(a))
    next(one for one in row.findChildren(Button) if one.text() == "1 other").click()
    next(one for one in row.findChildren(Button) if one.text() == "Pin it").click()
    assert pins == [("uefi-boot-rom", ROM_SHA)]


@pytest.mark.parametrize(("kit", "begins"), [(KIT, "This kit is not ready: 2 stops"), (READY, "This kit is ready")])
def test_the_verdict_is_one_sentence_beside_the_next_action(qtbot, kit, begins):
    foot = VerdictFoot()
    qtbot.addWidget(foot)
    foot.show_kit(kit)
    foot.show()
    assert foot.verdict.startswith(begins)
    assert foot.verdict.count(".") == 1
    assert foot.write.isVisible() == (kit is READY)
    assert foot.first.isVisible() == (kit is KIT)
    assert PADDED
