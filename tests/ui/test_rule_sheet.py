"""A finding leads to its rule's manual, the same text as on the manual's page."""

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QLabel

from tests.kits.rules_page import PAGE
from tests.ui.world import FINDINGS
from ui import tasks
from ui.widgets.finding_list import FindingList
from ui.widgets.rule_sheet import RuleSheet


def test_a_finding_tells_of_its_rule(world):
    world.window.show()
    findings = FindingList(world.window)
    findings.show_findings(FINDINGS)
    findings.show()
    abouts = [one for one in findings.findChildren(QAbstractButton) if one.text() == "About this rule"]
    assert [one.accessibleName().removeprefix("About the rule ") for one in abouts] == [
        one.code for one in findings.findings
    ]
    abouts[0].setFocus()
    QTest.keyClick(abouts[0], Qt.Key.Key_Space)
    (sheet,) = world.window.findChildren(RuleSheet)
    said = " ".join(one.text() for one in sheet.findChildren(QLabel))
    manual = tasks.rule(findings.findings[0].code)
    page = PAGE.read_text(encoding="utf-8")
    for part in (manual.catches, manual.remedy):
        assert part in said and part in page
    assert manual.fine[1:] in said and manual.fine in page
    assert all(one.textFormat() == Qt.TextFormat.PlainText for one in sheet.findChildren(QLabel))
    QTest.keyClick(sheet, Qt.Key.Key_Escape)
    world.settle(lambda: not world.window.findChildren(RuleSheet))
