"""What every page is handed: which catalogue, where work is done, and how news goes round."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QObject, QSettings, Signal

from catalogue.shapes.changes import Changes
from catalogue.tasks.context import Context
from ui import tasks
from ui.ages import Ages
from ui.jobs import Lane, Run, global_options


@dataclass(frozen=True, slots=True)
class Open:
    """A wish to see something: a piece at a byte, words to search for, a family, or a kit to write out."""

    page: str
    piece: str = ""
    offset: int | None = None
    search: str = ""
    family: str = ""
    mode: str = ""
    kit: object = None
    ids: str = ""


@dataclass(frozen=True, slots=True)
class Said:
    """One sentence for the person: `level` is stop, caution, note or good."""

    level: str
    text: str


class Session(QObject):
    """One window's catalogue, lanes and running job. Changes are handed round once, by `changed`."""

    changed = Signal(object)
    said = Signal(object)
    wanted = Signal(object)
    job_began = Signal(str)
    job_progressed = Signal(int, object, str)
    job_ended = Signal()

    def __init__(self, context: Context, settings: QSettings, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.context = context
        self.settings = settings
        self._lanes: dict[str, Lane] = {}
        self._run: Run | None = None
        self._after: list[Callable[[], None]] = []
        self.ages = Ages(self)

    def lane(self, name: str) -> Lane:
        """The lane of that name; its thread starts with its first question."""
        if name not in self._lanes:
            self._lanes[name] = Lane(name, self)
        return self._lanes[name]

    def warm_up(self) -> None:
        """Let a lane import the store while the first page is built."""
        self.lane("search").ask(lambda stopper: tasks.warm_up(), lambda answer: None, self.trouble)

    def say(self, level: str, text: str) -> None:
        """Show one sentence."""
        self.said.emit(Said(level, text))

    def trouble(self, text: str) -> None:
        """Show a failure's sentence."""
        self.say("stop", text)

    def hand_round(self, changes: Changes) -> None:
        """Tell every page once what changed."""
        if changes != Changes():
            self.changed.emit(changes)

    @property
    def job(self) -> Run | None:
        """The process that is running, if any; there is one at a time."""
        return self._run

    def run(
        self,
        what: str,
        command: Sequence[str],
        answered: Callable[[Any, int], None],
        changes: Changes,
        failed: Callable[[str], None] | None = None,
    ) -> bool:
        """Run our own command in a process; `changes` go round when it ends, however it ends.

        False, with a sentence, while another one is running.
        """
        if self._run is not None:
            self.say("caution", "Another job is running; wait for it or stop it first.")
            return False
        run = Run(["--progress", "lines", *global_options(self.context), *command], self)
        self._run = run
        run.progressed.connect(self.job_progressed)
        run.answered.connect(answered)
        run.failed.connect(failed or (lambda sentence: self.say("note" if run.stopping else "stop", sentence)))

        def ended() -> None:
            self._run = None
            self.job_ended.emit()
            self.hand_round(changes)
            run.deleteLater()

        run.ended.connect(ended)
        self.job_began.emit(what)
        run.start()
        return True

    def stop_job(self) -> None:
        """Ask the running process to end where its work is sound."""
        if self._run is not None:
            self._run.stop()

    def close(self) -> None:
        """End everything that runs and wait for it."""
        if self._run is not None:
            self._run.close()
            self._run = None
        for lane in self._lanes.values():
            lane.close()
