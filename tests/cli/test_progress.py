"""Progress and the wish to stop."""

import json
import os
import signal
import subprocess
import sys
import time

import pytest

from catalogue.cli.progress import Lines, Stoppable, Wish
from catalogue.errors import Stopped

WORK = """
import sys, time
from catalogue.cli import progress
from catalogue.errors import Stopped
handed, shown = progress.make(sys.argv[1] or None)
print("ready", flush=True)
try:
    for number in range(2000):
        handed.report(number, 2000, "a\\x1bfile")
        time.sleep(0.01)
except Stopped:
    shown.close()
    sys.exit(7)
"""


def start(kind: str) -> subprocess.Popen[bytes]:
    pipe = subprocess.PIPE
    process = subprocess.Popen([sys.executable, "-c", WORK, kind], stdin=pipe, stdout=pipe, stderr=pipe)
    assert process.stdout is not None
    assert process.stdout.readline() == b"ready\n"
    return process


def test_nothing_is_raised_until_somebody_asks() -> None:
    wish = Wish()
    shown = Stoppable(wish)
    shown.report(1, 2, "x")
    wish.asked = True
    with pytest.raises(Stopped):
        shown.report(2, 2, "x")


def test_lines_are_json_and_the_last_one_is_never_thinned_out(capsys: pytest.CaptureFixture[str]) -> None:
    lines = Lines(Wish())
    for number in range(1001):
        lines.report(number, 1000, "caf\udce9")
    said = [json.loads(line) for line in capsys.readouterr().err.splitlines()]
    assert said[-1] == {"done": 1000, "total": 1000, "what": "caf\udce9"}
    assert len(said) < 100


def test_the_word_stop_on_standard_input_stops_the_work() -> None:
    process = start("lines")
    begun = time.monotonic()
    _, err = process.communicate(b"stop\n", timeout=20)
    assert process.returncode == 7
    assert time.monotonic() - begun < 10
    assert all(json.loads(line)["what"] == "a\x1bfile" for line in err.splitlines())


def test_a_closed_standard_input_is_no_wish() -> None:
    process = start("lines")
    assert process.stdin is not None
    process.stdin.close()
    process.stdin = None
    time.sleep(0.3)
    assert process.poll() is None
    process.kill()
    process.communicate()


@pytest.mark.skipif(os.name == "nt", reason="signals between processes are POSIX")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_stops_the_work(number: int) -> None:
    process = start("")
    process.send_signal(number)
    process.communicate(timeout=20)
    assert process.returncode == 7
