"""Programs of Debian packages that make and read archives, run in a folder of their own."""

from __future__ import annotations

import os
import random
import shutil
import subprocess
from pathlib import Path

import pytest


def run(package: str, *command: str | Path, folder: Path, data: bytes | None = None) -> bytes:
    """What the program says; the test is skipped where its package is not installed."""
    program = shutil.which(str(command[0]))
    if program is None:
        pytest.skip(f"{command[0]} of Debian package {package} is not here")
    environment = {**os.environ, "LC_ALL": "C.UTF-8", "HOME": str(folder)}
    done = subprocess.run(
        [program, *map(str, command[1:])],
        cwd=folder,
        input=data,
        capture_output=True,
        timeout=120,
        check=False,
        env=environment,
    )
    assert done.returncode == 0, done.stderr.decode() + done.stdout.decode()
    return done.stdout


def files(folder: Path) -> dict[str, bytes]:
    """Files of several sorts, written below `folder`: random, repeating, empty, machine code that filters change."""
    chance = random.Random(3)
    calls = ((number * 37 % 4096).to_bytes(4, "little") for number in range(20_000))
    code = b"".join(b"\xe8" + one + chance.randbytes(7) for one in calls)
    made = {
        "HERON.ROM": b"\x55\xaa" + chance.randbytes(70_000),
        "empty": b"",
        "notes/READ.ME": b"Write the image before any restart. " * 3_000,
        "prog.exe": b"MZ" + bytes(58) + (64).to_bytes(4, "little") + b"PE\0\0" + code,
    }
    for name, data in made.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    return made


_SPEC = """Name: heron-firmware
Version: 12.04.00
Release: 3
Summary: Test
License: none
BuildArch: noarch
%description
x
%install
mkdir -p %{buildroot}/lib
cp {FILE} %{buildroot}/lib/
%files
/lib/{NAME}
"""


def rpm_package(folder: Path, how: str, file: Path) -> Path:
    """A package that holds `file` below /lib, its payload packed as `how` says (a `_binary_payload` of rpmbuild)."""
    (folder / "t.spec").write_text(_SPEC.replace("{FILE}", str(file)).replace("{NAME}", file.name))
    defines = {
        "_topdir": folder, "_dbpath": folder / "db", "_tmppath": folder, "_binary_payload": how, "_buildhost": "bench",
        "_arch": "noarch", "_os": "linux", "__os_install_post": "%{nil}", "debug_package": "%{nil}",
    }  # fmt: skip
    options = [part for key, value in defines.items() for part in ("--define", f"{key} {value}")]
    run("rpm", "rpmbuild", *options, "--nodeps", "-bb", folder / "t.spec", folder=folder)
    (path,) = (folder / "RPMS").rglob("*.rpm")
    return path
