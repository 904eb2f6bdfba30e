"""Record where a checksum list or a public key was had from: the one way, for every page that offers it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFileDialog, QWidget

from ui import tasks, text
from ui.widgets.say_so import SaySo

if TYPE_CHECKING:
    from catalogue.shapes.results import Vouched
    from ui.session import Session


def record_source(session: Session, parent: QWidget, say: Callable[[str, str], None]) -> None:
    """Ask for the file, then where it comes from and who says so; record it. `say` gets a level and a sentence."""
    file, _ = QFileDialog.getOpenFileName(parent, "A checksum list, or a public key")
    if not file:
        return
    name, context = text.plain(Path(file).name, 80), session.context
    words = (
        f"From then on {name} vouches for what it lists or signed, by your name and what you write here. "
        "The maker's own page is worth more than a copy from elsewhere."
    )
    form = SaySo(
        "Record a source", words, "Record it", session.settings, parent, named=True,
        asked=("Where you have it from", "The maker's download page, and the day"), kept="It is kept beside it",
    )  # fmt: skip

    def given() -> None:
        by, source = form.by.text().strip() if form.by else "", form.reason.text().strip()
        session.lane("write").ask(
            lambda stopper: tasks.record_source(context, Path(file), source=source, by=by),
            recorded,
            lambda sentence: say("stop", sentence),
        )

    def recorded(done: Vouched) -> None:
        what = text.count(len(done.keys), "key") if done.keys else text.count(done.entries, "digest")
        against = f"; {text.count(len(done.contradicted), 'piece')} contradicted" if done.contradicted else ""
        say("stop" if done.contradicted else "good", f"Recorded {what}; {done.matched:,} match here{against}.")
        session.hand_round(done.changes)

    form.accepted.connect(given)
    form.open()
