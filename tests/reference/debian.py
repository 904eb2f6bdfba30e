"""Files of Debian packages, for checks against what others made: downloaded and unpacked, never installed.

`apt-get download` and `dpkg-deb -x` need no root. The unpacked files stay in the temporary folder, so that every
worker of a run, and the next run, find them there. Where Debian or the network is missing, the test is skipped and
says why.
"""

from __future__ import annotations

import functools
import getpass
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest

SECONDS = 120
DONE = "unpacked"


@functools.cache
def obtain(package: str) -> tuple[Path | None, str]:
    """The folder that holds the package's files, or None and the reason."""
    for program in ("apt-get", "dpkg-deb"):
        if shutil.which(program) is None:
            return None, f"{program} is not here"
    store = Path(tempfile.gettempdir()) / f"kitproof-tests-debian-{getpass.getuser()}"
    store.mkdir(mode=0o700, exist_ok=True)
    if hasattr(os, "getuid") and store.stat().st_uid != os.getuid():
        return None, f"{store} is somebody else's"
    ready = store / package
    if (ready / DONE).exists():
        return ready, ""
    # Each worker unpacks into a folder of its own; the first rename wins.
    own = Path(tempfile.mkdtemp(prefix=f"{package}.", dir=store))
    try:
        why = _download(package, own)
        if why:
            return None, why
        try:
            own.rename(ready)
        except OSError:
            if not (ready / DONE).exists():
                raise
    finally:
        shutil.rmtree(own, ignore_errors=True)
    return ready, ""


def _download(package: str, folder: Path) -> str:
    """Download and unpack into `folder`; what went wrong, or ""."""
    fetch = ["apt-get", "-q", "-o", "Acquire::Retries=1", "-o", "Acquire::http::Timeout=20", "download", package]
    try:
        got = subprocess.run(fetch, cwd=folder, capture_output=True, text=True, timeout=SECONDS, check=False)
    except subprocess.TimeoutExpired:
        return f"apt-get download {package} took over {SECONDS} seconds"
    archives = list(folder.glob("*.deb"))
    if got.returncode or len(archives) != 1:
        errors = [line for line in got.stderr.splitlines() if line.startswith("E:")]
        return f"apt-get download {package}: {errors[0] if errors else 'failed'}"
    subprocess.run(["dpkg-deb", "-x", archives[0].name, "."], cwd=folder, timeout=SECONDS, check=True)
    (folder / DONE).touch()
    return ""


def files(package: str) -> Path:
    """The folder that stands for / with the package's files in it. Skips the test where they cannot be had."""
    folder, why = obtain(package)
    if folder is None:
        pytest.skip(f"Debian package {package}: {why}")
    return folder


def program(package: str, path: str) -> str:
    """A program of the package, if it runs on this machine. Skips the test where it does not."""
    found = files(package) / path
    try:
        subprocess.run([str(found)], capture_output=True, timeout=SECONDS, check=False, stdin=subprocess.DEVNULL)
    except OSError as error:
        pytest.skip(f"{path} of Debian package {package} does not run here: {error}")
    return str(found)
