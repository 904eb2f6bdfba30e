"""Values as they are typed. An empty path (an unset variable in a script) must not mean the folder one is in."""

from __future__ import annotations

import errno
from argparse import ArgumentTypeError
from pathlib import Path


def place(text: str) -> str:
    """A path or URL as it was typed. Raises ArgumentTypeError for an empty or impossible one."""
    if not text.strip():
        raise ArgumentTypeError("it is empty; name a path")
    try:
        Path(text).lstat()
    except OSError as error:
        if error.errno == errno.ENAMETOOLONG:
            raise ArgumentTypeError("the name is longer than this system takes") from error
    except ValueError as error:
        raise ArgumentTypeError("a path cannot hold a NUL character") from error
    return text


def path(text: str) -> Path:
    """A path. Raises as `place` does."""
    return Path(place(text))
