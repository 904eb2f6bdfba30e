"""The longest time the window does not answer while it indexes, whatever is read.

The window runs offscreen; a timer in it asks to be called every millisecond, and the longest gap between two calls
while its index process works is one round. Median and worst of the rounds are compared with the reach.
"""

from __future__ import annotations

import json
import os
import random
import statistics
import subprocess
import sys
from pathlib import Path

from tests.bench.measure import ROOT, ROUNDS, Line, Measure

NAME = "the window while indexing"
FILES = 2_000
MEDIAN, WORST = 0.020, 0.050

CHILD = """
import json, sys, time
from PySide6.QtCore import QSettings, QTimer, Qt
from PySide6.QtWidgets import QApplication
from catalogue.tasks.context import Context
from ui.session import Session
from ui.window import Window

app = QApplication([])
home, folder = sys.argv[1:3]
session = Session(Context(home + "/catalogue.db"), QSettings(home + "/w.ini", QSettings.Format.IniFormat))
window = Window(session)
window.show()
window.start()
last, gaps, going = [time.perf_counter()], [], [False]

def beat():
    now = time.perf_counter()
    if going[0] and session.job is not None:
        gaps.append(now - last[0])
    last[0] = now

timer = QTimer()
timer.setTimerType(Qt.TimerType.PreciseTimer)
timer.timeout.connect(beat)
timer.start(1)

def begin():
    window.page(0).index([folder])
    going[0] = True

def ended():
    print(json.dumps({"longest": max(gaps), "beats": len(gaps)}), flush=True)
    QTimer.singleShot(100, app.closeAllWindows)

session.job_ended.connect(ended)
QTimer.singleShot(2500, begin)
app.exec()
"""


def lay(folder: Path, files: int) -> None:
    """Real structures of every size: option ROM heads, zips of nothing, long random files."""
    chance = random.Random(8)
    folder.mkdir()
    for number in range(files):
        size = 20_000_000 if number % 400 == 7 else chance.choice((300, 4_096, 40_000))
        head = b"\x55\xaa\x40" if number % 3 == 0 else b"MZ" if number % 3 == 1 else b""
        (folder / f"{number:05}.bin").write_bytes(head + chance.randbytes(size))


def run(folder: Path, small: bool) -> list[Line]:
    """Index the same files again and again, each time into a new catalogue."""
    data = folder / "data"
    lay(data, FILES // 10 if small else FILES)
    longest = []
    for round_ in range(ROUNDS):
        home = folder / f"home-{round_}"
        home.mkdir()
        environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen", "HOME": str(home)}
        done = subprocess.run(
            [sys.executable, "-c", CHILD, str(home), str(data)],
            cwd=ROOT,
            env=environment,
            capture_output=True,
            text=True,
            timeout=600,
            check=True,
        )
        longest.append(float(json.loads(done.stdout.splitlines()[-1])["longest"]))
    median, worst = statistics.median(longest), max(longest)
    return [
        Line(
            f"{NAME}: longest time without an answer",
            f"{median * 1000:.1f} ms",
            "-",
            f"{median * 1000:.1f} ms, worst {worst * 1000:.1f}",
            "20 ms median, 50 worst",
            median < MEDIAN and worst < WORST,
        )
    ]


MEASURE = Measure(NAME, run)
