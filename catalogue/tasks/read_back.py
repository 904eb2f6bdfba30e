"""Compare a medium with what it says of itself; no catalogue is needed."""

from __future__ import annotations

from pathlib import Path

from catalogue.errors import BadCall
from catalogue.media import read_back
from catalogue.shapes.progress import Progress, Quiet
from catalogue.shapes.results import ReadBack


def run(target: Path, progress: Progress | None = None) -> ReadBack:
    """Read every kit under `target`. Raises BadCall where there is no such folder, NotWorkable where it goes away."""
    if not target.is_dir():
        raise BadCall(f"There is no folder or volume {target} to read back.")
    return read_back.read_back(target, progress or Quiet())
