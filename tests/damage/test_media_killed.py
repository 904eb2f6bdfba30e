"""SIGKILL while a kit is written: no half kit ever passes as whole, and writing again completes it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="kills are tried where processes fork")
SCRIPT = Path(__file__).with_name("kill_media.py")


def run(how, many, folder):
    done = subprocess.run(
        [sys.executable, str(SCRIPT), str(folder), how, str(many)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return json.loads(done.stdout)


@pytest.fixture
def folder(tmp_path):
    """In memory where there is such a place: a kill loses nothing that was written, so syncing adds only time."""
    shared = Path("/dev/shm")
    if not os.access(shared, os.W_OK):
        yield tmp_path / "medium"
        return
    with tempfile.TemporaryDirectory(dir=shared) as made:
        yield Path(made) / "medium"


@pytest.mark.slow
def test_killed_at_a_call_into_the_file_system(folder):
    """Every seventh of some 400 places; `python tests/damage/kill_media.py FOLDER calls 1` tries them all."""
    told = run("calls", 7, folder)
    assert told["kills"] > 40
    assert told["half"] > 20
    assert told["whole"] > 5


@pytest.mark.slow
def test_killed_at_a_random_moment(folder):
    told = run("times", 25, folder)
    assert told["kills"] == 25
    assert told["half"] > 0
