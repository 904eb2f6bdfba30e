"""The families known to a catalogue: shipped, the user's own, the settings', the call's."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from pathlib import Path

from catalogue.errors import BadCall
from catalogue.families import library
from catalogue.families.library import Library
from catalogue.families.model import Family, Route
from catalogue.families.spoken_of import Asked
from catalogue.shapes.results import FileProblem
from catalogue.store import Store
from catalogue.tasks import settings
from catalogue.tasks.context import Context


def folders(context: Context) -> tuple[Path, ...]:
    """The folders of family files beside the shipped ones. Raises BadCall for one a person named that is not there."""
    named = (*settings.read().families, *context.family_folders)
    for folder in named:
        if not folder.is_dir():
            raise BadCall(f"There is no folder {folder} to take family files from.")
    own = settings.user_families()
    return (*((own,) if own.is_dir() else ()), *named)


def families(context: Context, store: Store) -> Library:
    """Every family file within reach, settled or not. Raises BadCall as `folders` does."""
    return library.load(folders(context), settings.shipped_families(), store.accepted_families())


def families_for(context: Context, store: Store, cards: Iterable[tuple[int, int]]) -> Library:
    """The families within reach that may answer to a vendor and device, as `families` has them; others may be there."""
    about = Asked(cards=frozenset(cards))
    return library.load(folders(context), settings.shipped_families(), store.accepted_families(), about)


def named(context: Context, store: Store, id_: str) -> Family:
    """The family called `id_`, as `families` has it. Raises BadCall as `family` and `folders` do."""
    about = Asked(ids=frozenset({id_}))
    few = library.load(folders(context), settings.shipped_families(), store.accepted_families(), about)
    return few.families.get(id_) or family(families(context, store), id_)


def family(known: Library, id_: str) -> Family:
    """The family called `id_`. Raises BadCall, with the nearest names, for one that is not known."""
    found = known.families.get(id_)
    if found is not None:
        return found
    begins = [one for one in known.families if id_ and one.startswith(id_[:4].lower())]
    near = sorted({*begins, *difflib.get_close_matches(id_, known.families)})[:3]
    hint = f" Did you mean {' or '.join(near)}?" if near else " `kitproof families` lists those that are."
    spoilt = [f" {one.file}:{one.line} gives no family: {one.text.rstrip('.')}." for one in unknown(known)[:1]]
    raise BadCall(f'No card family is called "{id_}".{hint}{"".join(spoilt)}')


def unknown(known: Library) -> list[FileProblem]:
    """What is wrong with files (or folders) of which no family is known."""
    counted = {one for family in known.families.values() for one in family.problems}
    return [one for one in known.problems if one not in counted]


def route(of: Family, id_: str | None) -> Route:
    """The route called `id_`, the family's first where None. Raises BadCall."""
    if not of.routes:
        raise BadCall(f"The family file {of.file} gives no route we can read. `kitproof families` says what is wrong.")
    if id_ is None:
        return of.routes[0]
    for one in of.routes:
        if one.id == id_:
            return one
    raise BadCall(f"{of.id} has no route {id_}; it has {', '.join(one.id for one in of.routes)}.")
