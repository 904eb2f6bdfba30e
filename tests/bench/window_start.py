"""How long a person waits for the window on a catalogue of 100,000 pieces: to its first paint, and to painted rows.

Run: `python tests/bench/window_start.py [PIECES]`. Times are of the whole process, from before it is started; the
window is drawn offscreen. The reach is that of the project's measures: 0.25 s and 0.6 s.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
ROUNDS = 7
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
    environment = {
        **os.environ,
        "PYTHONPYCACHEPREFIX": str(home / "compiled"),
        "QT_QPA_PLATFORM": "offscreen",
        "HOME": str(home),
        "BENCH_BEGUN": str(time.time()),
    }
    environment.pop("PYTHONDONTWRITEBYTECODE", None)  # as installed: compiled once
    done = subprocess.run(
        [sys.executable, "-c", CHILD, str(catalogue)],
        cwd=ROOT, env=environment, capture_output=True, text=True, timeout=120, check=True,
    )  # fmt: skip
    return {what: float(seconds) for what, _, seconds in (line.rpartition(" ") for line in done.stdout.splitlines())}


def main() -> int:
    """Print the table."""
    pieces = int(sys.argv[1]) if len(sys.argv) > 1 else PIECES
    with tempfile.TemporaryDirectory() as made:
        home = Path(made)
        folder = home / "downloads"
        for number in range(pieces):
            if number % 500 == 0:
                inside = folder / f"{number // 500:04}"
                inside.mkdir(parents=True)
            (inside / f"piece-{number}.bin").write_bytes(b"QUAYHAND %08d" % number)
        catalogue = home / "catalogue.db"
        subprocess.run(
            [sys.executable, "-m", "ui.entry", "--catalogue", str(catalogue), "index", str(folder)],
            cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=True,
        )  # fmt: skip
        once(catalogue, home)
        rounds = [once(catalogue, home) for _ in range(ROUNDS)]
    print(f"{'window on ' + format(pieces, ',') + ' pieces':34} {'median':>8} {'worst':>8} {'reach':>8}")
    for what, reach in REACH.items():
        seconds = [one[what] for one in rounds]
        print(f"{what:34} {statistics.median(seconds):7.3f}s {max(seconds):7.3f}s {reach:7.2f}s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
