"""Contrast as WCAG 2.2 counts it (success criterion 1.4.3: 4.5:1 for text; 1.4.11: 3:1 for shapes and edges)."""

from dataclasses import fields

import pytest
from PySide6.QtGui import QPalette

from ui.look import DARK, LIGHT, Tones, contrast, palette

INKS = ("ink", "soft", "accent", "stop", "caution", "note", "good")
GROUNDS = ("ground", "sheet", "band", "chosen")


def test_contrast_agrees_with_the_examples_of_the_standard():
    # WCAG 2.2: black on white is 21:1; 767676h on white is the well-known least grey, 4.54:1.
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#767676", "#FFFFFF") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("tones", [LIGHT, DARK], ids=["light", "dark"])
def test_all_text_is_readable(tones: Tones):
    low = {
        (ink, ground): round(contrast(getattr(tones, ink), getattr(tones, ground)), 2)
        for ink in INKS
        for ground in GROUNDS
        if contrast(getattr(tones, ink), getattr(tones, ground)) < 4.5
    }
    assert low == {}
    assert contrast(tones.on_accent, tones.accent) >= 4.5
    assert contrast(tones.sheet, tones.ink) >= 4.5


@pytest.mark.parametrize("tones", [LIGHT, DARK], ids=["light", "dark"])
def test_the_palette_is_readable_in_every_group(tones: Tones):
    made = palette(tones)
    role = QPalette.ColorRole
    pairs = [
        (role.WindowText, role.Window),
        (role.Text, role.Base),
        (role.Text, role.AlternateBase),
        (role.ButtonText, role.Button),
        (role.HighlightedText, role.Highlight),
        (role.PlaceholderText, role.Base),
        (role.Link, role.Base),
        (role.ToolTipText, role.ToolTipBase),
    ]
    for group in (QPalette.ColorGroup.Active, QPalette.ColorGroup.Inactive, QPalette.ColorGroup.Disabled):
        for ink, ground in pairs:
            assert contrast(made.color(group, ink).name(), made.color(group, ground).name()) >= 4.5, (group, ink)


def test_light_and_dark_differ_in_every_tone():
    assert all(getattr(LIGHT, one.name) != getattr(DARK, one.name) for one in fields(Tones))
