"""Programs of others that sign and verify: GnuPG, minisign, signify. A test skips where one does not work.

GnuPG gets a home of its own for each test, and its agent is ended with it.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.reference import debian

SECONDS = 120


class Gpg:
    """GnuPG with one home."""

    def __init__(self, program: str, home: Path) -> None:
        self.program = program
        self.home = home

    def run(self, *words: str, data: bytes | None = None) -> bytes:
        """What it prints. Skips the test where it fails."""
        start = [self.program, "--homedir", str(self.home), "--batch", "--quiet", "--yes", "--no-auto-check-trustdb"]
        start += ["--passphrase", "", "--pinentry-mode", "loopback", "--trust-model", "always"]
        done = subprocess.run([*start, *words], input=data, capture_output=True, check=False, timeout=SECONDS)
        if done.returncode:
            pytest.skip(f"gpg does not work here: {done.stderr.decode(errors='replace').strip()[:300]}")
        return done.stdout

    def key(self, name: str, kind: str = "ed25519", use: str = "sign", ends: str = "never", *more: str) -> str:
        """Make a key; its fingerprint in lower-case hex."""
        address = name.split(maxsplit=1)[0].lower()
        self.run(*more, "--quick-generate-key", f"{name} <{address}@saltmarsh.example>", kind, use, ends)
        listed = self.run("--with-colons", "--list-keys", f"{name} <").decode()
        return re.findall(r"^fpr:+([0-9A-F]{40}):", listed, re.M)[0].lower()

    def public(self, fingerprint: str) -> bytes:
        """The certificate, binary."""
        return self.run("--export", fingerprint)

    def sign(self, data: bytes, by: str, *more: str) -> bytes:
        """A detached signature of `data` by the key (or subkey, with `!`) of that fingerprint."""
        return self.run(*more, "--local-user", by, "--detach-sign", data=data)

    def clear(self, text: bytes, by: str, *more: str) -> bytes:
        """The text, signed in the clear."""
        return self.run(*more, "--local-user", by, "--clear-sign", data=text)

    def verifies(self, signature: bytes, data: bytes, folder: Path) -> bool:
        """Whether GnuPG takes the signature."""
        (folder / "gpg.sig").write_bytes(signature)
        (folder / "gpg.data").write_bytes(data)
        words = [self.program, "--homedir", str(self.home), "--batch", "--verify"]
        done = subprocess.run(
            [*words, str(folder / "gpg.sig"), str(folder / "gpg.data")], capture_output=True, check=False, timeout=60
        )
        return done.returncode == 0


@contextmanager
def gpg(folder: Path) -> Iterator[Gpg]:
    """GnuPG with a home in `folder`, which should have a short path (its agent listens on a socket there)."""
    program = shutil.which("gpg")
    if program is None:
        pytest.skip("gpg is not here")
    home = folder / "h"
    home.mkdir(mode=0o700)
    try:
        yield Gpg(program, home)
    finally:
        subprocess.run(["gpgconf", "--homedir", str(home), "--kill", "all"], check=False, capture_output=True)


class Minisign:
    """Debian's minisign with one key."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.program = debian.program("minisign", "usr/bin/minisign")
        self._run("-G", "-W", "-f", "-p", "key.pub", "-s", "key.sec")
        self.public = (folder / "key.pub").read_bytes()

    def _run(self, *words: str) -> None:
        done = subprocess.run(
            [self.program, *words], capture_output=True, text=True, cwd=self.folder, check=False, timeout=60
        )
        if done.returncode:
            pytest.skip(f"minisign does not work here: {done.stderr[:200]}")

    def sign(self, data: bytes, *more: str) -> bytes:
        """A signature file of `data`; `-l` for the older form."""
        (self.folder / "mini.data").write_bytes(data)
        self._run("-S", "-W", *more, "-s", "key.sec", "-m", "mini.data", "-x", "mini.sig", "-t", "Saltmarsh College")
        return (self.folder / "mini.sig").read_bytes()

    def verifies(self, signature: bytes, data: bytes) -> bool:
        """Whether minisign takes the signature."""
        (self.folder / "mini.data").write_bytes(data)
        (self.folder / "mini.sig").write_bytes(signature)
        words = ["-V", "-p", "key.pub", "-m", "mini.data", "-x", "mini.sig"]
        done = subprocess.run([self.program, *words], capture_output=True, cwd=self.folder, check=False, timeout=60)
        return done.returncode == 0


class Signify:
    """Debian's signify-openbsd with one key."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.program = debian.program("signify-openbsd", "bin/signify-openbsd")
        self._run("-G", "-n", "-p", "s.pub", "-s", "s.sec")
        self.public = (folder / "s.pub").read_bytes()

    def _run(self, *words: str) -> None:
        done = subprocess.run(
            [self.program, *words], capture_output=True, text=True, cwd=self.folder, check=False, timeout=60
        )
        if done.returncode:
            pytest.skip(f"signify does not work here: {done.stderr[:200]}")

    def sign(self, data: bytes) -> bytes:
        """A signature file of `data`."""
        (self.folder / "s.data").write_bytes(data)
        self._run("-S", "-s", "s.sec", "-m", "s.data", "-x", "s.sig")
        return (self.folder / "s.sig").read_bytes()

    def verifies(self, signature: bytes, data: bytes) -> bool:
        """Whether signify takes the signature."""
        (self.folder / "s.data").write_bytes(data)
        (self.folder / "s.sig").write_bytes(signature)
        words = ["-V", "-q", "-p", "s.pub", "-m", "s.data", "-x", "s.sig"]
        done = subprocess.run([self.program, *words], capture_output=True, cwd=self.folder, check=False, timeout=60)
        return done.returncode == 0
