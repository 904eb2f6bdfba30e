import sys
import threading
import time

import pytest

from catalogue.errors import BadCall, Stopped
from ui import jobs
from ui.jobs import Lane, Run, own_command

CHILD = """
import json, sys
for done in range(3):
    print(json.dumps({"done": done, "total": 3, "what": "piece %d" % done}), file=sys.stderr, flush=True)
print("not progress", file=sys.stderr, flush=True)
"""


@pytest.fixture
def lane(qapp):
    made = Lane("test")
    yield made
    made.close()
    assert not [one for one in threading.enumerate() if one.name == "kitproof-test"]


def child(monkeypatch, code):
    monkeypatch.setattr(jobs, "own_command", lambda options: (sys.executable, ["-c", code]))
    return Run([])


def test_a_lane_answers_in_the_windows_thread(lane, qtbot):
    got = []
    lane.ask(
        lambda stopper: threading.current_thread().name,
        lambda name: got.append((name, threading.current_thread())),
        got.append,
    )
    qtbot.waitUntil(lambda: bool(got))
    assert got == [("kitproof-test", threading.main_thread())]


def test_the_worlds_fault_is_said_and_a_bug_is_logged(lane, qtbot, caplog):
    said = []

    def world(stopper):
        raise BadCall("There is no folder x.")

    def bug(stopper):
        raise ValueError("seven")

    lane.ask(world, said.append, said.append)
    lane.ask(bug, said.append, said.append)
    qtbot.waitUntil(lambda: len(said) == 2)
    assert said[0] == "There is no folder x."
    assert "fault of the program itself (ValueError: seven)" in said[1]
    assert "Traceback" in caplog.text


def test_an_older_question_of_the_same_kind_is_stopped_and_forgotten(lane, qtbot):
    got, began = [], threading.Event()

    def slow(stopper):
        began.set()
        while True:
            stopper.report(0, None, "")
            time.sleep(0.002)

    lane.ask(slow, lambda _: got.append("old"), got.append, instead_of="search")
    assert began.wait(5)
    lane.ask(lambda stopper: "new", got.append, got.append, instead_of="search")
    qtbot.waitUntil(lambda: bool(got))
    assert got == ["new"]


def test_stopping_says_so(lane, qtbot):
    said = []

    def work(stopper):
        while True:
            stopper.report(1, 2, "x")
            time.sleep(0.002)

    asked = lane.ask(work, said.append, said.append, told=lambda *a: None)
    asked.stopper.stop()
    qtbot.waitUntil(lambda: bool(said))
    assert said == [str(Stopped("Stopped. What was finished is kept."))]


def test_closing_waits_for_the_thread_and_delivers_nothing(qapp, qtbot):
    lane, got = Lane("short"), []
    lane.ask(lambda stopper: time.sleep(0.05), got.append, got.append)
    lane.close()
    qtbot.wait(50)
    assert got == []
    assert not [one for one in threading.enumerate() if one.name == "kitproof-short"]
    assert lane.ask(lambda stopper: 1, got.append, got.append) is None


def test_a_process_reports_and_answers(qtbot, monkeypatch):
    run = child(monkeypatch, CHILD + 'print(json.dumps({"files": 3}))')
    told, answers = [], []
    run.progressed.connect(lambda *a: told.append(a))
    run.answered.connect(lambda answer, code: answers.append((answer, code)))
    with qtbot.waitSignal(run.ended, timeout=60_000):
        run.start()
    assert answers == [({"files": 3}, 0)]
    assert told[-1] == (2, 3, "piece 2")


@pytest.mark.parametrize("code", [2, 3])
def test_a_process_that_says_why_it_failed_is_quoted(qtbot, monkeypatch, code):
    run = child(monkeypatch, f'import sys; print("kitproof: There is no folder x.", file=sys.stderr); sys.exit({code})')
    said = []
    run.failed.connect(said.append)
    with qtbot.waitSignal(run.ended, timeout=60_000):
        run.start()
    assert said == ["There is no folder x."]


def test_a_process_without_an_answer_is_a_logged_bug(qtbot, monkeypatch, caplog):
    run = child(monkeypatch, "print('{')")
    said = []
    run.failed.connect(said.append)
    with qtbot.waitSignal(run.ended, timeout=60_000):
        run.start()
    assert "without an answer" in said[0]
    assert "our own command ended" in caplog.text


def test_a_process_hears_stop(qtbot, monkeypatch):
    run = child(
        monkeypatch,
        'import sys; print("{\\"done\\": 1}", file=sys.stderr, flush=True); sys.stdin.readline(); sys.exit(3)',
    )
    said = []
    run.failed.connect(said.append)
    with qtbot.waitSignal(run.progressed, timeout=60_000):
        run.start()
    with qtbot.waitSignal(run.ended, timeout=30_000):
        run.stop()
    assert said == ["Stopped. What was finished is kept."]
    assert not run.running


def test_a_process_that_does_not_hear_is_ended(qtbot, monkeypatch):
    monkeypatch.setattr(jobs, "KILL_AFTER_MS", 100)
    run = child(monkeypatch, 'import sys, time; print("{\\"done\\": 1}", file=sys.stderr, flush=True); time.sleep(60)')
    with qtbot.waitSignal(run.progressed, timeout=60_000):
        run.start()
    with qtbot.waitSignal(run.ended, timeout=30_000):
        run.stop()


def test_our_own_command_runs_from_anywhere(tmp_path, qtbot, monkeypatch):
    (tmp_path / "ui").mkdir()
    (tmp_path / "ui" / "__init__.py").write_text("raise SystemExit('the wrong ui')")
    monkeypatch.chdir(tmp_path)
    program, arguments = own_command(["--help"])
    import subprocess

    done = subprocess.run([program, *arguments], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr
    assert "usage: kitproof" in done.stdout


def test_what_was_done_before_it_heard_stop_is_answered(qtbot, monkeypatch):
    child(monkeypatch, "import sys; print('{\"files\": 1}'); sys.stdout.flush(); sys.stdin.readline()")
    run = Run([])
    got, said = [], []
    run.answered.connect(lambda answer, code: got.append((answer, code)))
    run.failed.connect(said.append)
    with qtbot.waitSignal(run.ended, timeout=60_000):
        run.start()
        run.stop()
    assert got == [({"files": 1}, 0)]
    assert said == []
