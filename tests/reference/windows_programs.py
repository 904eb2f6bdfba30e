"""Real Windows programs that Python packages bring: the launchers of PyPI `distlib` (which pip carries too), with a
version resource, and those of `setuptools`, without one."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path


def launchers() -> list[Path]:
    """Every launcher that is installed here, one path a name."""
    found: dict[str, Path] = {}
    for package in ("distlib", "pip", "setuptools"):
        spec = find_spec(package)
        if spec is None or spec.origin is None:
            continue
        for path in sorted(Path(spec.origin).parent.rglob("*.exe")):
            found.setdefault(path.name, path)
    return list(found.values())
