"""What was written where and when, and what of it is old by now, in words and a shape."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtWidgets import QFrame, QScrollArea, QVBoxLayout, QWidget

from catalogue.shapes.results import Stale, WrittenKit
from ui import text
from ui.ages import Ages, sentence
from ui.look import unit
from ui.widgets.basics import Said, Words, wipe

MOST = 40
LEAST_LINES, LINES = 6, 11
"""Lines of text that are seen at once; the rest is scrolled to."""


class WrittenList(QFrame):
    """Hidden where nothing is shown. `here` is the target a person stands on; what was written there comes first."""

    def __init__(self, ages: Ages, parent: QWidget | None = None, *, title: str, only_old: bool = False) -> None:
        super().__init__(parent)
        self._ages = ages
        self._only_old = only_old
        self._name = title
        self._kits: tuple[WrittenKit, ...] = ()
        self._here = ""
        self.setAutoFillBackground(True)
        self.setBackgroundRole(self.backgroundRole().Base)
        step = unit(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(*((0,) * 4 if only_old else (step * 2, step, step * 2, step)))
        column.setSpacing(step // 2)
        self.title = Words("", self, factor=1.15, bold=True)
        column.addWidget(self.title)
        self._rows = QWidget(self)
        self._rows.setAutoFillBackground(True)
        self._rows.setBackgroundRole(self.backgroundRole().Base)
        self._column = QVBoxLayout(self._rows)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(step // 2)
        if only_old:
            column.addWidget(self._rows)
        else:
            area = QScrollArea(self)
            area.setWidgetResizable(True)
            area.setFrameShape(QFrame.Shape.NoFrame)
            area.setAccessibleName(title)
            area.setMinimumHeight(self.fontMetrics().height() * LEAST_LINES)
            area.setMaximumHeight(self.fontMetrics().height() * LINES)
            area.setWidget(self._rows)
            column.addWidget(area, 1)
        ages.changed.connect(self._show)
        self.hide()

    def show_kits(self, kits: Sequence[WrittenKit], here: str = "") -> None:
        """Show these kits."""
        self._kits, self._here = tuple(kits), here
        self._show()

    def stand_on(self, here: str) -> None:
        """Another target is the one that a person stands on."""
        if here != self._here:
            self._here = here
            self._show()

    def _show(self) -> None:
        wipe(self._rows)
        seen: dict[tuple[str, str], None] = {}
        shown: list[tuple[WrittenKit, tuple[Stale, ...]]] = []
        for kit in self._kits:
            if (kit.kit, kit.target) in seen:
                continue  # written again since: the newest of them counts
            seen[kit.kit, kit.target] = None
            old = tuple(dict.fromkeys(self._ages.written(kit=kit.kit, target=kit.target)))
            latest = tuple({one.role: one for one in reversed(old)}.values())
            if latest or not self._only_old:
                shown.append((kit, latest))
        shown.sort(key=lambda one: one[0].target != self._here)
        old_ones = sum(bool(old) for _kit, old in shown)
        self.setVisible(bool(shown))
        holds = "holds" if old_ones == 1 else "hold"
        count = text.count(len(shown), "kit")
        self.title.say(
            f"{self._name}: {count}"
            + (f", {old_ones} of them {holds} something old by now" if old_ones and not self._only_old else "")
        )
        for kit, old in shown[:MOST]:
            self._column.addWidget(self._row(kit, old))
        if len(shown) > MOST:
            self._column.addWidget(Words(f"and {len(shown) - MOST:,} more", self._rows, soft=True))
        self._column.addStretch(1)

    def _row(self, kit: WrittenKit, old: tuple[Stale, ...]) -> QWidget:
        ages = {one.age for one in old}
        mark = "withdrawn" if "withdrawn" in ages else "stale" if ages else "note"
        where = "here" if kit.target == self._here else f"to {text.short_place(kit.target)}"
        when = kit.when[:16].replace("T", " ")
        what = f"{text.plain(kit.family_title, 60)}, {text.plain(kit.route, 60)}, kit {kit.kit[:12]}"
        said = f"{what}: written {where} on {when} UTC"
        word = {"withdrawn": "Holds something withdrawn. ", "stale": "Holds something stale. "}.get(mark, "")
        row = Said(mark, "\n".join([word + said, *(sentence(one) for one in old)]), self._rows)
        row.setToolTip(text.tip(kit.target))
        return row
