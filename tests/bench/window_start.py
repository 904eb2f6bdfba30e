"""How long a person waits for the window on a catalogue of 100,000 pieces: to its first paint, and to painted rows.

Times are of the whole process, from before it is started, compiled as an installed program is; drawn offscreen.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

from tests.bench.measure import ROOT, ROUNDS, Line, Measure, kitproof, seconds

NAME = "the window"
PIECES = 100_000
REACH = {"first paint": 0.25, "rows painted": 0.6}

CHILD = """
import os, sys, time
begun = float(os.environ["BENCH_BEGUN"])
from ui.entry import main
import gc
gc.disable()
import ui.window
from PySide6.QtCore import QObject, QEvent, QTimer
from PySide6.QtWidgets import QApplication

def told(what):
    print(what, time.time() - begun, flush=True)

class Watch(QObject):
    def eventFilter(self, view, event):
        if event.type() == QEvent.Type.Paint and self.table.rowCount() and self.table._pages:
            QTimer.singleShot(0, self, self.end)
        return False
    def end(self):
        told("rows painted")
        self.list.removeEventFilter(self)
        QApplication.instance().closeAllWindows()

watch = Watch()
start = ui.window.Window.start
def begin(window):
    told("first paint")
    start(window)
    page = window.page(0)
    watch.table, watch.list = page.table, page.list.viewport()
    page.list.viewport().installEventFilter(watch)
ui.window.Window.start = begin
sys.exit(main(["--catalogue", sys.argv[1]]))
"""


def once(catalogue: Path, home: Path) -> dict[str, float]:
    """Seconds to each event of one start."""
    environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen", "HOME": str(home)}
    environment |= {"PYTHONPYCACHEPREFIX": str(home / "compiled"), "BENCH_BEGUN": str(time.time())}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    done = subprocess.run(
        [sys.executable, "-c", CHILD, str(catalogue)],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    return {what: float(spent) for what, _, spent in (line.rpartition(" ") for line in done.stdout.splitlines())}


def lay(folder: Path, pieces: int) -> None:
    """Small files, each another content, in folders of 500."""
    for number in range(pieces):
        inside = folder / f"{number // 500:04}"
        if number % 500 == 0:
            inside.mkdir(parents=True)
        (inside / f"piece-{number}.bin").write_bytes(b"QUAYHAND %08d" % number)


def run(folder: Path, small: bool) -> list[Line]:
    """Index the pieces, start the window again and again."""
    pieces = PIECES // 10 if small else PIECES
    lay(folder / "downloads", pieces)
    catalogue = folder / "catalogue.db"
    seconds(kitproof("--catalogue", str(catalogue), "index", "--json", str(folder / "downloads")))
    once(catalogue, folder)
    rounds = [once(catalogue, folder) for _ in range(ROUNDS)]
    lines = []
    for what, reach in REACH.items():
        spent = statistics.median(one[what] for one in rounds)
        said = f"{spent:.3f} s"
        lines.append(Line(f"{NAME} on {pieces:,} pieces: {what}", said, "-", said, f"under {reach:g} s", spent < reach))
    return lines


MEASURE = Measure(NAME, run)
