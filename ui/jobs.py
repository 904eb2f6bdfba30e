"""Work that must not hold up the window: in threads of its own, and in processes of its own.

A *lane* is one thread that does one thing after another; asked again before it is done, it may forget what is no
longer wanted. A *process* runs our own command and reads its progress, one JSON line each. Both say where they are,
can be stopped, and are gone when the window closes. What goes wrong comes back as one sentence: the world's fault in
its own words, anything else as a bug that is logged.
"""

from __future__ import annotations

import os
import queue
import sys
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from PySide6.QtCore import QObject, QProcess, QProcessEnvironment, Qt, QTimer, Signal

from catalogue.errors import KitproofError, NotWorkable, Stopped

if TYPE_CHECKING:
    import logging

    from catalogue.tasks.context import Context

T = TypeVar("T")
ROOT = Path(__file__).resolve().parent.parent
BOOT = (
    "import os, sys; sys.path.append(sys.argv.pop(1)); getattr(os, 'nice', int)(10);"
    " from ui.entry import main; raise SystemExit(main())"
)
KILL_AFTER_MS = 10_000
LINE_MOST = 1 << 20
ANSWER_MOST = 1 << 28
POLL_SECONDS = 0.1


def log() -> logging.Logger:
    """The window's log; logging is imported when there is something to log."""
    import logging

    return logging.getLogger("kitproof.window")


def sentence(problem: BaseException) -> str:
    """One sentence for a person; a bug is logged with its trace and named as one."""
    if isinstance(problem, KitproofError):
        return str(problem)
    log().error("a job failed", exc_info=problem)
    what = f"{type(problem).__name__}: {problem}"
    return f"This is a fault of the program itself ({what}). It is in the log; nothing was lost."


class Stopper:
    """A progress for work in a lane: passes reports on and raises Stopped once it is asked to end."""

    def __init__(self, told: Callable[[int, int | None, str], None] | None = None) -> None:
        self._told = told
        self._stop = threading.Event()

    def stop(self) -> None:
        """Ask the work to end at its next report."""
        self._stop.set()

    @property
    def stopped(self) -> bool:
        """Whether it was asked to end."""
        return self._stop.is_set()

    def report(self, done: int, total: int | None, what: str) -> None:
        """Pass on where the work is; raise Stopped if it should end."""
        if self._stop.is_set():
            raise Stopped("Stopped. What was finished is kept.")
        if self._told is not None:
            self._told(done, total, what)


@dataclass(slots=True)
class Asked:
    """One thing asked of a lane."""

    work: Callable[[Stopper], Any]
    done: Callable[[Any], None]
    failed: Callable[[str], None]
    stopper: Stopper
    kind: str = ""
    forgotten: bool = field(default=False)

    def forget(self) -> None:
        """Its answer is no longer wanted: stop it and deliver nothing."""
        self.forgotten = True
        self.stopper.stop()


class Lane(QObject):
    """One thread, one thing after another. Answers are delivered in the window's own thread."""

    _answered = Signal(object, object, object)
    _progressed = Signal(object, int, object, str)

    def __init__(self, name: str, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._name = name
        self._queue: queue.SimpleQueue[Asked | None] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None
        self._open: list[Asked] = []
        self._answered.connect(self._deliver, Qt.ConnectionType.QueuedConnection)
        self._progressed.connect(self._pass_on, Qt.ConnectionType.QueuedConnection)
        self._closed = False

    def ask(
        self,
        work: Callable[[Stopper], T],
        done: Callable[[T], None],
        failed: Callable[[str], None],
        *,
        told: Callable[[int, int | None, str], None] | None = None,
        instead_of: str = "",
    ) -> Asked | None:
        """Do `work` in the lane's thread, then `done` or `failed` in the window's.

        `instead_of` names a kind of question: an older one of that kind is forgotten. None once the lane is closed.
        """
        if self._closed:
            return None
        if instead_of:
            for one in self._open:
                if one.kind == instead_of:
                    one.forget()
        asked = Asked(work, done, failed, Stopper(), instead_of)
        if told is not None:
            receiver = told
            asked.stopper = Stopper(lambda d, t, w: self._progressed.emit((asked, receiver), d, t, w))
        self._open.append(asked)
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name=f"kitproof-{self._name}")
            self._thread.start()
        self._queue.put(asked)
        return asked

    @property
    def busy(self) -> bool:
        """Whether anything asked has not been answered yet."""
        return any(not one.forgotten for one in self._open)

    def close(self) -> None:
        """Stop what is running, deliver nothing more, and wait for the thread to end."""
        self._closed = True
        for one in self._open:
            one.forget()
        if self._thread is not None:
            self._queue.put(None)
            self._thread.join()
            self._thread = None
        self._open.clear()

    def _work(self) -> None:
        while (asked := self._queue.get()) is not None:
            answer: Any = None
            problem: BaseException | None = None
            if not asked.forgotten:
                try:
                    answer = asked.work(asked.stopper)
                except Exception as caught:  # every failure becomes a sentence in the window
                    problem = caught
            try:
                self._answered.emit(asked, answer, problem)
            except RuntimeError:  # the window is gone
                return

    def _deliver(self, asked: Asked, answer: Any, problem: BaseException | None) -> None:  # noqa: ANN401
        if asked in self._open:
            self._open.remove(asked)
        if asked.forgotten or self._closed:
            return
        if problem is None:
            asked.done(answer)
        else:
            asked.failed(sentence(problem))

    def _pass_on(self, whose: tuple[Asked, Callable[..., None]], done: int, total: int | None, what: str) -> None:
        if not whose[0].forgotten and not self._closed:
            whose[1](done, total, what)


def own_command(options: Sequence[str]) -> tuple[str, list[str]]:
    """The program and arguments that run our own command line in a process of its own."""
    if getattr(sys, "frozen", False):
        return sys.executable, list(options)
    return sys.executable, ["-P", "-c", BOOT, str(ROOT), *options]


def global_options(context: Context) -> list[str]:
    """The options that make our own command use the window's catalogue and family folders."""
    options = [] if context.catalogue is None else ["--catalogue", context.catalogue]
    for folder in context.family_folders:
        options += ["--families", str(folder)]
    return options


def asked_apart(context: Context, command: Sequence[str], stopper: Stopper) -> Any:  # noqa: ANN401
    """The JSON answer of our own command, run in a process of its own while a lane's thread waits for it.

    Raises Stopped when the lane no longer wants the answer, NotWorkable where there is none.
    """
    import subprocess

    program, arguments = own_command([*global_options(context), *command])
    environment = {**os.environ, "NO_COLOR": "1", "PYTHONIOENCODING": "utf-8:surrogateescape"}
    with subprocess.Popen(
        [program, *arguments],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=environment,
    ) as process:
        try:
            while True:
                try:
                    out, _ = process.communicate(timeout=POLL_SECONDS)
                    break
                except subprocess.TimeoutExpired:
                    stopper.report(0, None, "")
        finally:
            if process.poll() is None:
                process.kill()
    answer = _answer(out) if process.returncode in (0, 1) else None
    if answer is None:
        raise NotWorkable(f"Our own command ({' '.join(command)}) ended without an answer.")
    return answer


class Run(QObject):
    """Our own command in a process of its own, with progress, a way to stop it, and its JSON answer."""

    progressed = Signal(int, object, str)
    answered = Signal(object, int)
    failed = Signal(str)
    ended = Signal()

    def __init__(self, options: Sequence[str], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._process = QProcess(self)
        program, arguments = own_command(options)
        self._process.setProgram(program)
        self._process.setArguments(arguments)
        environment = QProcessEnvironment.systemEnvironment()
        environment.insert("PYTHONIOENCODING", "utf-8:surrogateescape")
        environment.insert("NO_COLOR", "1")
        self._process.setProcessEnvironment(environment)
        self._out = bytearray()
        self._err = bytearray()
        self._last_words: list[str] = []
        self._stopping = False
        self._over = False
        self._kill = QTimer(self)
        self._kill.setSingleShot(True)
        self._kill.timeout.connect(self._process.kill)
        self._process.readyReadStandardOutput.connect(self._read_out)
        self._process.readyReadStandardError.connect(self._read_err)
        self._process.finished.connect(self._finished)
        self._process.errorOccurred.connect(self._errored)

    def start(self) -> None:
        """Begin; returns at once."""
        self._process.start()

    @property
    def running(self) -> bool:
        """Whether the process has not ended yet."""
        return not self._over

    @property
    def stopping(self) -> bool:
        """Whether a person asked it to stop."""
        return self._stopping

    def stop(self) -> None:
        """Ask it to end where its work is sound (it hears the line "stop"); after ten seconds, end it."""
        if self._over or self._stopping:
            return
        self._stopping = True
        self._ask_to_stop()
        self._kill.start(KILL_AFTER_MS)

    def close(self) -> None:
        """End it now and wait; the catalogue is left sound by its transactions."""
        self._kill.stop()
        if self._process.state() != QProcess.ProcessState.NotRunning:
            self._stopping = True
            self._over = True
            self._ask_to_stop()
            if not self._process.waitForFinished(3_000):
                self._process.kill()
                self._process.waitForFinished(3_000)

    def _ask_to_stop(self) -> None:
        self._process.write(b"stop\n")

    def _read_out(self) -> None:
        if len(self._out) < ANSWER_MOST:
            self._out += self._process.readAllStandardOutput().data()

    def _read_err(self) -> None:
        self._err += self._process.readAllStandardError().data()
        *lines, rest = self._err.split(b"\n")
        self._err = bytearray(rest[-LINE_MOST:])
        told: tuple[int, int | None, str] | None = None
        for line in lines:
            found = _progress(bytes(line))
            if found is not None:
                told = found
            elif line.strip():
                self._last_words = [*self._last_words[-19:], line.decode("utf-8", "replace").strip()]
        if told is not None:
            self.progressed.emit(*told)

    def _errored(self, error: QProcess.ProcessError) -> None:
        if error == QProcess.ProcessError.FailedToStart and not self._over:
            self._over = True
            self.failed.emit(f"Our own command could not be started: {self._process.errorString()}.")
            self.ended.emit()

    def _finished(self, code: int, status: QProcess.ExitStatus) -> None:
        self._kill.stop()
        if self._over:
            return
        self._over = True
        self._read_out()
        self._read_err()
        answer = _answer(bytes(self._out))
        if status == QProcess.ExitStatus.NormalExit and code in (0, 1) and answer is not None:
            self.answered.emit(answer, code)  # also where it was done before it heard that it should stop
        elif self._stopping:
            self.failed.emit("Stopped. What was finished is kept.")
        elif self._last_words and code in (1, 2, 3):
            self.failed.emit(self._last_words[-1].removeprefix("kitproof: "))
        else:
            log().error("our own command ended with %s %s: %s", status, code, "\n".join(self._last_words))
            self.failed.emit("Our own command ended without an answer; its last words are in the log.")
        self.ended.emit()


def _progress(line: bytes) -> tuple[int, int | None, str] | None:
    if not line.startswith(b"{"):
        return None
    import json

    try:
        said = json.loads(line)
    except ValueError:
        return None
    if not isinstance(said, dict) or not isinstance(said.get("done"), int):
        return None
    total = said.get("total")
    return min(said["done"], 2**31 - 1), total if isinstance(total, int) else None, str(said.get("what", ""))


def _answer(out: bytes) -> Any:  # noqa: ANN401
    import json

    try:
        return json.loads(out)
    except ValueError:
        return None
