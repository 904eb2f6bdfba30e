"""The contract of the command line that needs no catalogue: help, wrong calls, completion."""

import os
import subprocess
import sys

import pytest

from catalogue.cli.commands import COMMANDS
from catalogue.cli.main import build_parser, main

NAMES = [command.name for command in COMMANDS]


@pytest.mark.parametrize("name", NAMES)
def test_help_names_the_exit_codes(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([name, "--help"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    for code in ("0 done", "1 ", "2 the call itself is wrong", "3 the work could not be finished"):
        assert code in said


@pytest.mark.parametrize("call", [["nonsense"], ["index"], ["pieces", "--card", "12"], ["pieces", "--limit", "-1"], []])
def test_a_wrong_call_is_one_line_and_exit_2(call: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(call) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert "Traceback" not in err


def test_every_command_takes_json() -> None:
    for name in NAMES:
        with pytest.raises(SystemExit):
            build_parser().parse_args([name, "--json", "--help"])


def test_help_imports_nothing_heavy() -> None:
    """Start-up is measured: help needs neither the database, nor the window, nor a format library."""
    code = (
        "import sys; from catalogue.cli.main import main; main(['index', '--help']); "
        "heavy = {'sqlalchemy', 'alembic', 'PySide6', 'pefile', 'elftools', 'tqdm'} & set(sys.modules); "
        "sys.exit(f'imported {heavy}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.skipif(not os.path.exists("/bin/bash"), reason="bash is not here")
def test_the_completion_script_is_valid_bash(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", "bash"]) == 0
    script = capsys.readouterr().out
    assert subprocess.run(["/bin/bash", "-n"], input=script, text=True, check=False).returncode == 0
    assert "write-out" in script
