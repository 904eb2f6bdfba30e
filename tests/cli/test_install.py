"""The wheel in an empty environment outside the source tree: it runs the demo and opens the window."""

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    built = subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", folder, ROOT],
        capture_output=True,
        text=True,
        check=False,
    )
    assert built.returncode == 0, built.stderr
    (made,) = folder.glob("*.whl")
    return made


def test_the_wheel_holds_what_the_program_reads(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    tops = {name.split("/")[0] for name in names if ".dist-info" not in name}
    assert tops == {"catalogue", "ui", "resources", "sample_bundles"}
    assert any(name.startswith("resources/families/") and name.endswith(".toml") for name in names)
    assert any(name.startswith("catalogue/store/migrations/") for name in names)


def test_installed_in_an_empty_environment_it_runs_and_opens(wheel: Path, tmp_path: Path) -> None:
    place = tmp_path / "empty"
    subprocess.run([sys.executable, "-m", "venv", place], check=True)
    bin_ = place / ("Scripts" if os.name == "nt" else "bin")
    install = [bin_ / "python", "-m", "pip", "install", "--quiet", wheel]
    installed = subprocess.run(install, capture_output=True, text=True, check=False)
    if installed.returncode and "No matching distribution" in installed.stderr:
        pytest.skip("the package registry is out of reach, so what the wheel needs cannot be installed")
    assert installed.returncode == 0, installed.stderr
    environment = {
        **{key: value for key, value in os.environ.items() if key != "PYTHONPATH"},
        "QT_QPA_PLATFORM": "offscreen",
        "XDG_DATA_HOME": str(tmp_path / "data"),
        "XDG_CONFIG_HOME": str(tmp_path / "config"),
    }
    demo = subprocess.run(
        [bin_ / "kitproof", "demo", "--json", tmp_path / "demo"],
        cwd=tmp_path,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert demo.returncode == 0, demo.stderr
    assert json.loads(demo.stdout)["as_intended"] is True
    if subprocess.run([sys.executable, "-c", "import PySide6.QtWidgets"], capture_output=True, check=False).returncode:
        pytest.skip("the graphics libraries are missing: the demo ran, the window was not opened")
    opened = subprocess.run(
        [bin_ / "python", "-c", OPEN], cwd=tmp_path, env=environment, capture_output=True, text=True, check=False
    )
    assert opened.returncode == 0, opened.stderr
    assert opened.stdout.strip() == "shown"


OPEN = """
import sys
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
import ui.entry

def look() -> None:
    shown = [window for window in QApplication.topLevelWidgets() if window.isVisible() and window.windowTitle()]
    print("shown" if shown else "nothing shown", flush=True)
    for window in shown:
        window.close()
    QApplication.quit()

import ui.window
before = ui.window.Window.showEvent
def after(self, event):
    before(self, event)
    QTimer.singleShot(800, look)
ui.window.Window.showEvent = after
sys.argv = ["kitproof"]
sys.exit(ui.entry.main())
"""
