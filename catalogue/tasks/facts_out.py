"""Hand out what people recorded here, and family files, as one plain text file that anybody may sign."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from catalogue.errors import BadCall, NotWorkable
from catalogue.facts import form, reading
from catalogue.facts.writing import text_of
from catalogue.families.library import Library
from catalogue.shapes.changes import Changes
from catalogue.shapes.facts import Fact, FactsFile, FamilyFile, RanFact, WordFact
from catalogue.shapes.results import FactsOut
from catalogue.store import Store, facts
from catalogue.tasks import known
from catalogue.tasks.context import Context
from catalogue.tasks.hosts import put

HEAD = len(form.FIRST)


def run(context: Context, file: Path, by: str, bench: str = "", families: Sequence[str] = ()) -> FactsOut:
    """Write all recorded facts to `file`, and the files of `families` with those they stand on.

    With families, words and cards that ran go along for these alone; lists and keys always do. `bench` is what this
    bench calls itself; it is remembered. Raises BadCall without a name, for a family nobody knows, and where `file` is
    there and is something else.
    """
    if not by.strip():
        raise BadCall("A facts file says who sends it: give --by.")
    _free(file)
    with Store.open(context.catalogue) as store:
        files = _families(known.families(context, store), families) if families else ()
        with store.writing() as connection:
            facts.fill(connection)
            name = bench.strip() or facts.name_of_bench(connection)
            if not name:
                raise BadCall("This bench has no name yet, by which others would know its facts: give --bench once.")
            if bench.strip():
                facts.name_bench(connection, name)
            found = facts.every(connection)
    kept = tuple(replace(one, bench=one.bench or name) for one in found if _goes_along(one, files))
    text = text_of(FactsFile(name, by.strip(), kept, files))
    data = text.encode("utf-8")
    try:
        reading.read(data)
    except form.NotFacts as wrong:
        raise BadCall(f"These facts cannot be handed out in one file: {wrong}.") from wrong
    try:
        put(file, data)
    except OSError as error:
        raise NotWorkable(f"The facts cannot be written to {file}: {error.strerror or error}.") from error
    ids = tuple(one.id for one in files)
    return FactsOut(str(file), hashlib.sha256(data).hexdigest(), name, len(kept), ids, Changes())


def bench_name(context: Context) -> str:
    """What this bench calls itself, "" where nobody said so yet."""
    with Store.open(context.catalogue) as store, store.reading() as connection:
        return facts.name_of_bench(connection)


def _goes_along(fact: Fact, families: Iterable[FamilyFile]) -> bool:
    if not families or not isinstance(fact.said, WordFact | RanFact):
        return True
    return fact.said.family in {one.id for one in families}


def _free(file: Path) -> None:
    """Only an older facts file is written over."""
    try:
        if not file.exists():
            if not file.absolute().parent.is_dir():
                raise BadCall(f"There is no folder {file.absolute().parent} to write {file.name} to.")
            return
        begins = b""
        if file.is_file():
            with file.open("rb") as stream:
                begins = stream.read(HEAD)
    except OSError as error:
        raise NotWorkable(f"{file} cannot be looked at: {error.strerror or error}.") from error
    if begins != form.FIRST.encode("ascii"):
        raise BadCall(f"{file} is there already and is no facts file; name another.")


def _families(library: Library, asked: Sequence[str]) -> tuple[FamilyFile, ...]:
    """The files of these families and of those that they stand on, by id."""
    found: dict[str, FamilyFile] = {}
    waiting = list(asked)
    while waiting:
        id_ = waiting.pop()
        if id_ in found:
            continue
        family = known.family(library, id_)
        try:
            data = Path(family.file).read_bytes()
            text = data.decode("utf-8")
        except OSError as error:
            raise NotWorkable(f"{family.file} cannot be read: {error.strerror or error}.") from error
        except UnicodeDecodeError:
            raise BadCall(f"{family.file} is not UTF-8 text, so it cannot go along.") from None
        found[id_] = FamilyFile(id_, hashlib.sha256(data).hexdigest(), text)
        if family.extends:
            waiting.append(family.extends)
    return tuple(found[id_] for id_ in sorted(found))
