"""The one way from a piece of evidence to what it speaks of, for every page that shows findings."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QWidget

from catalogue.shapes.finding import Evidence
from catalogue.shapes.target import Leads, Target, TextLines
from ui import tasks, text
from ui.session import Open, Session


def show_evidence(
    session: Session,
    evidence: Evidence,
    piece: str | None,
    parent: QWidget,
    person: Callable[[str], None],
    host: Callable[[], None],
) -> None:
    """Open the bytes on the Shelf, or the text at its line; `person` and `host` show what stands on the page itself."""
    context = session.context

    def found(target: Target) -> None:
        if target.leads is Leads.BYTES:
            session.wanted.emit(Open("Shelf", piece=target.what, offset=target.offset))
        elif target.leads is Leads.PERSON:
            person(target.what)
        elif target.leads is Leads.HOST:
            host()
        else:
            session.lane("evidence").ask(
                lambda stopper: tasks.text_lines(context, target), shown, session.trouble, instead_of="text"
            )

    def shown(lines: TextLines) -> None:
        from ui.widgets.text_sheet import TextSheet

        sheet = TextSheet(lines, text.short_place(evidence.place, 2), parent.window())
        sheet.open()

    session.lane("evidence").ask(
        lambda stopper: tasks.evidence_target(context, evidence, piece), found, session.trouble, instead_of="evidence"
    )
