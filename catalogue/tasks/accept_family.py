"""Settle a family file a person has checked."""

from __future__ import annotations

from pathlib import Path

from catalogue.errors import BadCall
from catalogue.families import load
from catalogue.families.load import Loaded
from catalogue.shapes.changes import Changes
from catalogue.shapes.draft import Proof
from catalogue.shapes.progress import Progress, Quiet
from catalogue.shapes.results import Accepted, FileProblem
from catalogue.store import Store
from catalogue.tasks import family_update, known, prove_draft, settings
from catalogue.tasks.context import Context


def run(context: Context, file: Path, progress: Progress | None = None, *, only_look: bool = False) -> Accepted:
    """Prove the file's laws and record its id and SHA-256.

    A file that says it was drafted must also show itself right by what it was drafted from (`prove_draft`). Of a new
    text of an accepted family, what it changes is told. With `only_look` all is proved and nothing recorded. Raises
    BadCall where there is no such file, and Stopped.
    """
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
            return _not(loaded, "extends", (text,))
        proof = None
        if loaded.family.drafted is not None:
            proof = prove_draft.run(context, store, loaded.family, loaded.family.drafted, progress or Quiet())
            if proof.missing:
                missing = (f"a draft that does not show itself right yet: {one}" for one in proof.missing)
                return _not(loaded, "drafted", tuple(missing), proof)
        update = family_update.run(context, store, loaded, progress or Quiet())
        if only_look:
            return Accepted(id_, loaded.sha256, settled=False, proof=proof, update=update)
        store.accept_family(id_, loaded.sha256)
        family_update.keep_text(store, file, loaded.sha256)
    return Accepted(id_, loaded.sha256, settled=True, changes=Changes(families=True), proof=proof, update=update)


def _not(loaded: Loaded, key: str, why: tuple[str, ...], proof: Proof | None = None) -> Accepted:
    """Not settled, for reasons that stand at the line of `key`."""
    family = loaded.family
    line = family.lines.get(key, 1) if family else 1
    problems = tuple(FileProblem(loaded.file, line, one) for one in why)
    return Accepted(family.id if family else "", loaded.sha256, settled=False, problems=problems, proof=proof)
