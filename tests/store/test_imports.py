"""What opening a catalogue loads: the window's start is measured, so no reader and no cryptography is among it."""

from __future__ import annotations

import subprocess
import sys


def test_the_store_loads_no_reader():
    script = (
        "import sys, catalogue.store, catalogue.store.evidence; "
        "print([one for one in sys.modules if one.startswith(('catalogue.formats', 'cryptography', 'pysequoia'))])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.strip() == "[]"
