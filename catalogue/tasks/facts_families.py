"""Family files that come in with facts: how each stands to the families known here, and laying new ones down.

A file is laid into the user's own folder under its id, byte for byte, and only where no family of that id is known: two
differing files of one id would leave both unsettled. It settles when a person here accepts it, as any other does.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from catalogue.errors import NotWorkable
from catalogue.families.library import Library
from catalogue.families.load import Loaded, load_source, only
from catalogue.families.model import Family
from catalogue.families.source import Source, read_source, source_of
from catalogue.shapes.facts import FactsFile, FamilyFile
from catalogue.shapes.results import FamilyIn
from catalogue.tasks import settings
from catalogue.tasks.hosts import put

NEW, KNOWN, DIFFERS, BROKEN = "new", "known", "differs", "broken"


def look(library: Library, files: Sequence[FamilyFile]) -> tuple[FamilyIn, ...]:
    """How each file stands to what is known here."""
    loaded = _loaded(files, library)
    return tuple(_look(library, one, loaded[one.id]) for one in files)


def _look(library: Library, one: FamilyFile, loaded: Loaded) -> FamilyIn:
    here = library.families.get(one.id)
    if here is not None and here.sha256 == one.sha256:
        return FamilyIn(one.id, one.sha256, KNOWN, here.file)
    if here is not None:
        why = f"Another file of this family is known here, {here.file}; compare the two, and lay the better one there."
        return FamilyIn(one.id, one.sha256, DIFFERS, why=why)
    if loaded.family is None or loaded.family.id != one.id:
        return FamilyIn(one.id, one.sha256, BROKEN, why="It is no family file of that id.")
    if loaded.problems:
        first = loaded.problems[0]
        return FamilyIn(one.id, one.sha256, BROKEN, why=f"Its line {first.line}: {first.text}")
    return FamilyIn(one.id, one.sha256, NEW)


def read_all(files: Sequence[FamilyFile], library: Library) -> Iterator[Family]:
    """The families of these files, those that can be read."""
    for one in _loaded(files, library).values():
        if one.family is not None:
            yield one.family


def _loaded(files: Sequence[FamilyFile], library: Library) -> dict[str, Loaded]:
    sources = {one.id: source_of(f"{one.id}.toml", one.text.encode("utf-8")) for one in files}

    def find(base: str) -> Source:
        if base in sources:
            return sources[base]
        here = library.families.get(base)
        return only(base, [] if here is None else [read_source(Path(here.file))])

    return {id_: load_source(one, find) for id_, one in sources.items()}


def lay(looked: Sequence[FamilyIn], held: FactsFile) -> tuple[FamilyIn, ...]:
    """Lay the new files into the user's folder; where each lies now. Raises NotWorkable."""
    texts = {one.id: one.text.encode("utf-8") for one in held.families}
    return tuple(_lay(one, texts[one.id]) if one.state == NEW else one for one in looked)


def _lay(one: FamilyIn, data: bytes) -> FamilyIn:
    folder = settings.user_families()
    file = folder / f"{one.id}.toml"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if file.exists():
            same = hashlib.sha256(file.read_bytes()).hexdigest() == one.sha256
            return replace(one, state=KNOWN if same else DIFFERS, file=str(file) if same else "",
                           why="" if same else f"{file} is another file.")  # fmt: skip
        put(file, data)
    except OSError as error:
        raise NotWorkable(f"The family file cannot be laid down at {file}: {error.strerror or error}.") from error
    return replace(one, file=str(file))
