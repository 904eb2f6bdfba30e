"""Make an environment beside the source, install Kitproof into it, and run it. Needs nothing but Python 3.11.

    python3 resources/set_up.py [ARGUMENT…]      set up, then run `kitproof ARGUMENT…`
    python3 resources/set_up.py --only [EXTRA…]  set up with these extras (test, lint), run nothing

An environment of its own, because our top-level packages have plain names that a shared one might hold already.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
ENVIRONMENT = ROOT / ".venv"
BIN = ENVIRONMENT / ("Scripts" if os.name == "nt" else "bin")
PYTHON = BIN / ("python.exe" if os.name == "nt" else "python")
STAMP = ENVIRONMENT / "kitproof-set-up"


def run(*command: str | Path, quiet: bool = False) -> bool:
    """Run a command; True if it answered 0. Its output goes to standard error, so that JSON stays alone on stdout."""
    out = subprocess.DEVNULL if quiet else sys.stderr
    return subprocess.run([str(part) for part in command], stdout=out, stderr=out, check=False).returncode == 0


def say(text: str) -> None:
    """One line for the person who waits."""
    sys.stderr.write(text + "\n")
    sys.stderr.flush()


def has_pip() -> bool:
    """Whether the environment stands and can install."""
    return PYTHON.exists() and run(PYTHON, "-m", "pip", "--version", quiet=True)


def make_environment() -> list[str | Path] | None:
    """Make the environment; the beginning of an install command, or None where this machine offers no way."""
    if has_pip():
        return [PYTHON, "-m", "pip", "install"]
    shutil.rmtree(ENVIRONMENT, ignore_errors=True)
    say(f"Making an environment in {ENVIRONMENT} …")
    for attempt in (1, 2):
        if run(sys.executable, "-m", "venv", ENVIRONMENT, quiet=True) and has_pip():
            return [PYTHON, "-m", "pip", "install"]
        root = hasattr(os, "geteuid") and os.geteuid() == 0
        if attempt == 1 and root and shutil.which("apt-get"):
            say("This Python cannot make environments yet; installing Debian's python3-venv …")
            run("apt-get", "-qq", "update", quiet=True)
            run("apt-get", "-qq", "-y", "install", "python3-venv", quiet=True)
        else:
            break
    shutil.rmtree(ENVIRONMENT, ignore_errors=True)
    if shutil.which("uv") and run("uv", "venv", "--quiet", "--python", sys.executable, ENVIRONMENT):
        return ["uv", "pip", "install", "--python", PYTHON]
    if run(sys.executable, "-m", "venv", "--without-pip", ENVIRONMENT, quiet=True):
        there = [sys.executable, "-m", "pip", "--python", PYTHON]
        if run(*there, "--version", quiet=True):
            return [*there, "install"]
    return None


def wanted(extras: list[str]) -> str:
    """What an environment that is up to date was made from."""
    made_from = (ROOT / "pyproject.toml").read_bytes() + sys.version.encode() + ",".join(extras).encode()
    return hashlib.sha256(made_from).hexdigest()


def set_up(extras: list[str]) -> bool:
    """Install Kitproof, editable, with `extras`; skipped when the environment is already what it should be."""
    have = STAMP.read_text().split() if STAMP.exists() else []
    if PYTHON.exists() and wanted(extras) in have:
        return True
    install = make_environment()
    if install is None:
        say(
            "Cannot make a Python environment here: neither venv with pip, uv, nor pip was found. "
            "On Debian, install python3-venv, then run this again."
        )
        return False
    say("Installing Kitproof and what it needs …")
    what = f"{ROOT}[{','.join(extras)}]" if extras else str(ROOT)
    if not run(*install, "--quiet", "--editable", what):
        say("Installing did not work; the lines above say why. Mend that (often: the network), then run this again.")
        return False
    STAMP.write_text("\n".join([*have, wanted(extras)]) + "\n")
    say(f"Kitproof is installed. From now on, run {BIN / 'kitproof'} (with no command it opens the window).")
    return True


def main(arguments: list[str]) -> int:
    """Set up, then hand over to the program; its exit code, or 3 where setting up did not work."""
    if sys.version_info < (3, 11):  # noqa: UP036 — this file must speak up under an older Python too
        say(f"Kitproof needs Python 3.11 or later; this is {sys.version.split()[0]}.")
        return 3
    only = arguments[:1] == ["--only"]
    if not set_up(sorted(arguments[1:]) if only else []):
        return 3
    if only:
        return 0
    return subprocess.run([str(PYTHON), "-m", "ui.entry", *arguments], check=False).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
