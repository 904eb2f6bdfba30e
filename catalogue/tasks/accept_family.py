"""Settle a family file a person has checked."""

from __future__ import annotations

from pathlib import Path

from catalogue.errors import BadCall
from catalogue.families import load
from catalogue.shapes.changes import Changes
from catalogue.shapes.results import Accepted
from catalogue.store import Store
from catalogue.tasks.context import Context


def run(context: Context, file: Path) -> Accepted:
    """Prove the file's laws and record its id and SHA-256. Raises BadCall where there is no such file."""
    if not file.is_file():
        raise BadCall(f"There is no family file {file}.")
    loaded = load.load_file(file)
    id_ = loaded.family.id if loaded.family else ""
    if loaded.family is None or loaded.problems:
        return Accepted(id_, loaded.sha256, settled=False, problems=loaded.problems)
    with Store.open(context.catalogue) as store:
        store.accept_family(id_, loaded.sha256)
    return Accepted(id_, loaded.sha256, settled=True, changes=Changes(families=True))
