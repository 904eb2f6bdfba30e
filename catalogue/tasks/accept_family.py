"""Settle a family file a person has checked."""

from __future__ import annotations

from pathlib import Path

from catalogue.errors import BadCall
from catalogue.families import load
from catalogue.shapes.changes import Changes
from catalogue.shapes.results import Accepted, FileProblem
from catalogue.store import Store
from catalogue.tasks import known, settings
from catalogue.tasks.context import Context


def run(context: Context, file: Path) -> Accepted:
    """Prove the file's laws and record its id and SHA-256. Raises BadCall where there is no such file."""
    if not file.is_file():
        raise BadCall(f"There is no family file {file}.")
    loaded = load.load_file(file, (settings.shipped_families(), *known.folders(context)))
    id_ = loaded.family.id if loaded.family else ""
    if loaded.family is None or loaded.problems:
        return Accepted(id_, loaded.sha256, settled=False, problems=loaded.problems)
    with Store.open(context.catalogue) as store:
        below = loaded.family.extends
        base = known.families(context, store).families.get(below) if below else None
        if below and (base is None or not base.settled):
            text = f"It stands on {below}, which is not settled: accept that family's file first."
            problem = FileProblem(loaded.file, loaded.family.lines.get("extends", 1), text)
            return Accepted(id_, loaded.sha256, settled=False, problems=(problem,))
        store.accept_family(id_, loaded.sha256)
    return Accepted(id_, loaded.sha256, settled=True, changes=Changes(families=True))
