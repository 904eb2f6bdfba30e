"""Our colours, light and dark, as palettes; sizes that follow the text size. Qt's own style draws the controls.

Every pair of text and ground used here is at least 4.5:1 (WCAG 2.2, success criterion 1.4.3); tests/ui/test_look.py
counts them. Fusion's own highlight, placeholder and link colours fall below that, so they are set too.
"""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QFont, QFontDatabase, QFontMetrics, QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication, QWidget


@dataclass(frozen=True, slots=True)
class Tones:
    """One set of colours, as "#rrggbb". `ground` lies behind everything, `sheet` behind text that is read."""

    ground: str
    sheet: str
    band: str
    ink: str
    soft: str
    line: str
    accent: str
    on_accent: str
    chosen: str
    stop: str
    caution: str
    note: str
    good: str


LIGHT = Tones(
    ground="#E6ECEA",
    sheet="#FBFDFC",
    band="#F0F4F2",
    ink="#14201C",
    soft="#46554F",
    line="#B4C2BC",
    accent="#155E53",
    on_accent="#FFFFFF",
    chosen="#CBE3DA",
    stop="#9E1F17",
    caution="#744D00",
    note="#274F7C",
    good="#17603A",
)
DARK = Tones(
    ground="#121917",
    sheet="#1B2421",
    band="#222D29",
    ink="#E6EEEA",
    soft="#AFBEB7",
    line="#43524C",
    accent="#7FD3BD",
    on_accent="#08211B",
    chosen="#274A40",
    stop="#FFA196",
    caution="#F1C46C",
    note="#A3CBF5",
    good="#90DCA8",
)


def palette(tones: Tones) -> QPalette:
    """A whole palette of these tones, disabled and inactive states included."""
    made = QPalette()
    role = QPalette.ColorRole
    pairs = {
        role.Window: tones.ground,
        role.WindowText: tones.ink,
        role.Base: tones.sheet,
        role.AlternateBase: tones.band,
        role.Text: tones.ink,
        role.Button: tones.band,
        role.ButtonText: tones.ink,
        role.BrightText: tones.stop,
        role.ToolTipBase: tones.sheet,
        role.ToolTipText: tones.ink,
        role.PlaceholderText: tones.soft,
        role.Highlight: tones.accent,
        role.HighlightedText: tones.on_accent,
        role.Accent: tones.accent,
        role.Link: tones.note,
        role.LinkVisited: tones.note,
        role.Light: tones.sheet,
        role.Midlight: tones.band,
        role.Mid: tones.line,
        role.Dark: tones.line,
        role.Shadow: tones.line,
    }
    for one, colour in pairs.items():
        made.setColor(one, QColor(colour))
    for one in (role.WindowText, role.Text, role.ButtonText):
        made.setColor(QPalette.ColorGroup.Disabled, one, QColor(tones.soft))
    return made


def tones_of(widget: QWidget) -> Tones:
    """The tones that go with the palette a widget is painted with."""
    return DARK if widget.palette().color(QPalette.ColorRole.Window).lightness() < 128 else LIGHT


def luminance(colour: str) -> float:
    """Relative luminance, 0 to 1, as WCAG 2.2 defines it."""
    one = QColor(colour)

    def linear(part: float) -> float:
        return part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4

    return 0.2126 * linear(one.redF()) + 0.7152 * linear(one.greenF()) + 0.0722 * linear(one.blueF())


def contrast(one: str, other: str) -> float:
    """The contrast ratio of two colours, 1 to 21, as WCAG 2.2 defines it."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def follow_system(app: QApplication) -> None:
    """Take our light or dark tones as the system asks, now and whenever it changes its mind.

    A person who asked the system for high contrast keeps the system's own palette.
    """
    hints = QGuiApplication.styleHints()

    def take() -> None:
        if hints.accessibility().contrastPreference() == Qt.ContrastPreference.HighContrast:
            app.setPalette(QPalette())
            return
        app.setPalette(palette(DARK if hints.colorScheme() == Qt.ColorScheme.Dark else LIGHT))

    hints.colorSchemeChanged.connect(take)
    take()


def fixed_font(like: QFont) -> QFont:
    """The system's fixed-width font, as large as `like`."""
    font = QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont)
    if like.pointSizeF() > 0:
        font.setPointSizeF(like.pointSizeF())
    else:
        font.setPixelSize(like.pixelSize())
    return font


def sized(font: QFont, factor: float, *, bold: bool = False) -> QFont:
    """The same font, larger or smaller, so that a person's text size carries everywhere."""
    made = QFont(font)
    if font.pointSizeF() > 0:
        made.setPointSizeF(font.pointSizeF() * factor)
    else:
        made.setPixelSize(max(1, round(font.pixelSize() * factor)))
    made.setBold(bold)
    return made


def unit(widget: QWidget) -> int:
    """Half the height of a line of text, in pixels: the step that all our distances are made of."""
    return max(6, QFontMetrics(widget.font()).height() // 2)
