"""List the families known, check family files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from catalogue.errors import BadCall
from catalogue.families import load
from catalogue.families.model import Family
from catalogue.shapes.results import FamilyInfo, FileProblem
from catalogue.store import Store, facts
from catalogue.tasks import known, settings
from catalogue.tasks.context import Context


def run(context: Context) -> list[FamilyInfo]:
    """Every family known, by id."""
    with Store.open(context.catalogue) as store:
        library = known.families(context, store)
        with store.reading() as connection:
            came = {id_: facts.came_from(connection, one.sha256) for id_, one in library.families.items()}
    return [_info(library.families[id_], came[id_]) for id_ in sorted(library.families)]


def unknown(context: Context) -> list[FileProblem]:
    """What is wrong with family files (or folders) of which no family is known. Raises BadCall as `run` does."""
    with Store.open(context.catalogue) as store:
        return known.unknown(known.families(context, store))


def check(context: Context, files: Sequence[Path]) -> list[FileProblem]:
    """Everything wrong with these files, in their order; needs no catalogue. Raises BadCall for one that is missing.

    The file a variant stands on is looked for beside it and among the known families.
    """
    beside = (settings.shipped_families(), *known.folders(context))
    wrong: list[FileProblem] = []
    for file in files:
        if not file.is_file():
            raise BadCall(f"There is no file {file} to check.")
        wrong += load.load_file(file, beside).problems
    return wrong


def detail(context: Context, id_: str) -> Family:
    """The family called `id_`, with its routes and roles. Raises BadCall for one that is not known."""
    with Store.open(context.catalogue) as store:
        return known.named(context, store, id_)


def _info(family: Family, came: str) -> FamilyInfo:
    return FamilyInfo(
        id=family.id,
        title=family.title,
        modes=tuple(family.modes),
        roles=tuple(family.roles),
        routes=tuple(route.id for route in family.routes),
        settled=family.settled,
        file=family.file,
        problems=family.problems,
        extends=family.extends or "",
        changes=family.changes,
        as_of=family.as_of,
        shipped=settings.is_shipped(Path(family.file)),
        came=came,
    )
