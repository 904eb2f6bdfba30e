"""Take in what another bench recorded: first it is shown, then a person here takes it in by name.

Nothing of it overrides what is here. What contradicts is told and left out: another word for the same finding, another
record of a key, a record of this bench's own that the other takes back, another file of a family that is known. A
person's word clears stops, so words stay out unless they are asked for by themselves. That a card ran is checked again
here, from its listings. A family file comes in unsettled. Everything keeps the name of whoever said it, of their bench,
and of whoever took it in here.
"""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

from catalogue.errors import BadCall, NotWorkable
from catalogue.facts import form, reading
from catalogue.intake import more_digests, signature_checks
from catalogue.shapes.changes import Changes
from catalogue.shapes.facts import FactsFile, ListFact, WordFact
from catalogue.shapes.progress import Progress, Quiet
from catalogue.shapes.results import Against, ContradictedEntry, FactLine, FactsIn
from catalogue.shapes.signing import BROKEN
from catalogue.store import Store, facts, names, recorded
from catalogue.store.snapshot import now
from catalogue.tasks import facts_families, known, signed_beside
from catalogue.tasks.context import Context
from catalogue.tasks.facts import line
from catalogue.tasks.facts_against import Here, key_of


class _OnlyShown(Exception):
    """Undoes what was tried."""


def run(
    context: Context,
    file: Path,
    by: str = "",
    *,
    accept: bool = False,
    words: bool = False,
    progress: Progress | None = None,
) -> FactsIn:
    """Show what `file` would add and what of it contradicts; with `accept`, `by` takes it in (with `words`, words too).

    Nothing is taken in where a signature beside the file is not of its bytes. Raises BadCall for a file that is not
    there or is no facts file, naming the line, and for taking in without a name.
    """
    if accept and not by.strip():
        raise BadCall("Whoever takes facts in answers for them by name: give --by.")
    data = _read(file)
    try:
        held = reading.read(data)
    except form.NotFacts as wrong:
        raise BadCall(f"{file} is not read as facts: {wrong}.") from wrong
    with Store.open(context.catalogue) as store:
        signatures = signed_beside.checks(store, file, data)
        taken = accept and not any(one.state == BROKEN for one in signatures)
        families = facts_families.look(known.families(context, store), held.families)
        who = names.plain(by.strip())
        found = _facts(context, store, held, who, taken=taken, words=words)
        if taken:
            families = facts_families.lay(families, held)
            origin = (held.bench, held.sent_by, who, now())
            with store.writing() as connection:
                for one in families:
                    if one.file and one.state == "new":
                        facts.came(connection, one.sha256, origin)
            more_digests.add(store, progress or Quiet())
            signature_checks.add(store, progress or Quiet())
            found = replace(found, speaks_against=_speaks_against(store, found, held))
    return replace(
        found,
        file=str(file),
        sha256=hashlib.sha256(data).hexdigest(),
        families=families,
        signatures=signatures,
        changes=Changes(vouching=taken, words=taken, families=any(one.file for one in families)),
    )


def _read(file: Path) -> bytes:
    if not file.is_file():
        raise BadCall(f"There is no facts file {file}.")
    try:
        with file.open("rb") as stream:
            return stream.read(form.MAX_FILE_BYTES + 1)
    except OSError as error:
        raise NotWorkable(f"The facts file {file} cannot be read: {error.strerror or error}.") from error


def _facts(context: Context, store: Store, held: FactsFile, by: str, *, taken: bool, words: bool) -> FactsIn:
    """What taking in does; where nothing is `taken`, it is tried and undone."""
    found: list[FactsIn] = []
    library = known.families(context, store)
    try:
        with store.writing() as connection:
            facts.fill(connection)
            here = Here(facts.Records(connection), held, library)
            new: list[FactLine] = []
            left: list[FactLine] = []
            against: list[Against] = []
            numbers: dict[str, int] = {}
            knew = 0
            for one in held.facts:
                if one.id in here.known:
                    knew += 1
                    against += [Against(line(one), why) for why in here.against_known(one)]
                    continue
                why = here.why_not(one)
                if why:
                    against.append(Against(line(one), why))
                elif isinstance(one.said, WordFact) and not words:
                    left.append(line(one))
                else:
                    mine = replace(one, sent_by=held.sent_by, accepted_by=by, accepted_at=now())
                    numbers[one.id] = facts.put(connection, mine, key_of(one.said))
                    new.append(line(mine if taken else one))
            lists = [numbers[one.id] for one in held.facts if isinstance(one.said, ListFact) and one.id in numbers]
            speaks = [said for number in lists for said in _lines_against(recorded.standing(connection, number))]
            found.append(
                FactsIn(
                    "", "", held.bench, held.sent_by, taken, tuple(new), knew, tuple(against), tuple(left),
                    tuple(speaks),
                )
            )  # fmt: skip
            if not taken:
                raise _OnlyShown
    except _OnlyShown:
        pass
    return found[0]


def _lines_against(stands: list[recorded.Standing]) -> list[ContradictedEntry]:
    return [ContradictedEntry(one.name, one.want, have, str(at)) for one in stands for have, at in one.against]


def _speaks_against(store: Store, found: FactsIn, held: FactsFile) -> tuple[ContradictedEntry, ...]:
    """As it stands once the digests that new lists need are known of every piece."""
    new = {one.id for one in found.new}
    wanted = {one.id for one in held.facts if isinstance(one.said, ListFact) and one.id in new}
    with store.reading() as connection:
        numbers = recorded.numbers_of(connection, wanted)
        return tuple(said for number in numbers for said in _lines_against(recorded.standing(connection, number)))
