"""Values as they are typed. An empty path (an unset variable in a script) must not mean the folder one is in."""

from __future__ import annotations

from argparse import ArgumentTypeError
from pathlib import Path


def place(text: str) -> str:
    """A path or URL as it was typed. Raises ArgumentTypeError for an empty one."""
    if not text.strip():
        raise ArgumentTypeError("it is empty; name a path")
    return text


def path(text: str) -> Path:
    """A path. Raises ArgumentTypeError for an empty one."""
    return Path(place(text))
