"""Inputs that once broke the promise, kept so that each run tries them again: one small text file a case.

Its first lines are `# target: …` and `# showed: …`; then the bytes in base64 (RFC 4648, section 4), deflated (RFC 1950)
where `# packed: zlib` says so.
"""

from __future__ import annotations

import base64
import hashlib
import re
import textwrap
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

FOUND = Path(__file__).parent / "found"
MOST = 1 << 20
_LINE = re.compile(r"# (\w+): (.*)")


@dataclass(frozen=True, slots=True)
class Case:
    """An input for the target of that name, and in one line what it showed when it was found."""

    target: str
    showed: str
    data: bytes

    @property
    def file(self) -> str:
        """The name of its file: the target's, and the beginning of the SHA-256 of the bytes."""
        return f"{self.target.replace(' ', '-')}-{hashlib.sha256(self.data).hexdigest()[:10]}.txt"


def every(folder: Path = FOUND) -> Iterator[Case]:
    """The cases kept in a folder, by name."""
    for path in sorted(folder.glob("*.txt")):
        yield load(path.read_text("ascii"))


def load(text: str) -> Case:
    """One case. Raises ValueError where its text is none."""
    lines = text.splitlines()
    told = dict(found.groups() for line in lines if (found := _LINE.fullmatch(line)))
    if not {"target", "showed"} <= told.keys():
        raise ValueError("a case names its target and says what it showed")
    data = base64.b64decode("".join(line for line in lines if not line.startswith("#")), validate=True)
    if told.get("packed") == "zlib":
        unpacker = zlib.decompressobj()
        data = unpacker.decompress(data, MOST)
    return Case(told["target"], told["showed"], data)


def text(case: Case) -> str:
    """A case as its file holds it."""
    packed = zlib.compress(case.data, 9)
    small = len(packed) < 0.7 * len(case.data)
    head = [f"# target: {case.target}", f"# showed: {' '.join(case.showed.split())}"] + ["# packed: zlib"] * small
    body = textwrap.wrap(base64.b64encode(packed if small else case.data).decode(), 116)
    return "\n".join([*head, *body]) + "\n"


def keep(case: Case, folder: Path = FOUND) -> Path:
    """Write a case into a folder; its path."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / case.file
    path.write_text(text(case), "ascii")
    return path
