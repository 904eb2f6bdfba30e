import subprocess
import sys

import pytest

from ui.entry import WindowCall, window_call


@pytest.mark.parametrize(
    ("argv", "call"),
    [
        ([], WindowCall()),
        (["--catalogue", "x.db"], WindowCall("x.db")),
        (["--catalogue=x.db", "--families=a", "--families", "b", "--debug"], WindowCall("x.db", ("a", "b"), True)),
    ],
)
def test_only_global_options_open_the_window(argv, call):
    assert window_call(argv) == call


@pytest.mark.parametrize(
    "argv",
    [["--help"], ["index", "x"], ["--catalogue"], ["--catalogue", "x.db", "pieces"], ["--progress", "lines"], ["x"]],
)
def test_everything_else_is_the_command_line(argv):
    assert window_call(argv) is None


def test_the_command_line_imports_no_qt():
    code = (
        "import sys, ui.entry; ui.entry.main(['--help']); sys.exit(any(n.startswith('PySide6') for n in sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr
    assert "kitproof" in done.stdout
