"""A release of PySide6 loses references to None, True and False on some Pythons: a few thousand calls that return
nothing, and the process aborts. Ours must not: 20,000 slot and property calls in a process of its own."""

import os
import subprocess
import sys

CODE = """
from PySide6.QtCore import QObject, Property, Signal, Slot
from PySide6.QtWidgets import QApplication, QLabel
app = QApplication([])
class Thing(QObject):
    rang = Signal(bool)
    def __init__(self):
        super().__init__()
        self.heard = 0
    @Slot(bool)
    def hear(self, yes):
        self.heard += 1
    def _get(self):
        return None
    def _set(self, value):
        pass
    what = Property(object, _get, _set)
thing, label = Thing(), QLabel()
thing.rang.connect(thing.hear)
for number in range(20_000):
    thing.rang.emit(number % 2 == 0)
    thing.what = None
    assert thing.what is None
    thing.setProperty("what", None)
    label.setEnabled(number % 2 == 0)
    label.isEnabled()
    label.update()
assert thing.heard == 20_000
print("all there")
"""


def test_twenty_thousand_void_calls_end_well():
    done = subprocess.run(
        [sys.executable, "-c", CODE],
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert (done.returncode, done.stdout.strip()) == (0, "all there"), done.stderr[-500:]
