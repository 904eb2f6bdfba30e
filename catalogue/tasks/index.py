"""Index folders or files."""

from __future__ import annotations

import os
from collections.abc import Sequence

from catalogue.intake import indexing
from catalogue.shapes.progress import Progress, Quiet
from catalogue.shapes.results import IndexSummary
from catalogue.store import Store
from catalogue.tasks.context import Context


def run(
    context: Context, paths: Sequence[str | bytes | os.PathLike[str]], progress: Progress | None = None
) -> IndexSummary:
    """Index `paths`. Raises BadCall for one that is not there, Stopped, and NotWorkable; what was done is kept."""
    with Store.open(context.catalogue) as store:
        return indexing.index(store, paths, progress or Quiet())
