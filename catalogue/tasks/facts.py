"""List what people recorded here, and take a record back."""

from __future__ import annotations

import re

from catalogue.errors import BadCall
from catalogue.shapes.changes import Changes
from catalogue.shapes.facts import Fact, TakenBack, about, fact_id
from catalogue.shapes.results import FactLine, TookBack
from catalogue.store import Store, facts, names
from catalogue.store.snapshot import now
from catalogue.tasks.context import Context

BEGINS = re.compile(r"[0-9a-f]{4,64}")


def run(context: Context) -> list[FactLine]:
    """Every recorded fact but the takings back, which stand with what they took back; by kind and time."""
    with Store.open(context.catalogue) as store, store.reading() as connection:
        found = facts.every(connection)
    ids = {one.id for one in found}
    return [line(one) for one in found if not (isinstance(one.said, TakenBack) and one.said.fact in ids)]


def line(fact: Fact) -> FactLine:
    """A fact as lists show it."""
    back = fact.taken_back
    return FactLine(
        id=fact.id,
        kind=fact.kind,
        what=about(fact.said),
        by=fact.said.by,
        at=fact.said.at,
        bench=fact.bench,
        accepted_by=fact.accepted_by,
        accepted_at=fact.accepted_at,
        state="stands" if back is None else "taken-back",
        why="" if back is None else f"{back.by} took it back on {back.at[:10]}: {back.reason}",
    )


def take_back(context: Context, begins: str, reason: str, by: str) -> TookBack:
    """Take back the fact whose id begins so: it says nothing any more, and stays known with who took it back and why.

    Raises BadCall without reason or name, for an id that nothing or several facts have, and for one already taken back.
    """
    if not reason.strip() or not by.strip():
        raise BadCall("To take something back takes a reason and the name of whoever does.")
    if BEGINS.fullmatch(begins.lower()) is None:
        raise BadCall(f"{begins} is no fact's id or beginning of one: `kitproof facts` lists them.")
    with Store.open(context.catalogue) as store, store.writing() as connection:
        facts.fill(connection)
        every = facts.every(connection)
        mine = [one for one in every if one.id.startswith(begins.lower()) and not isinstance(one.said, TakenBack)]
        if not mine:
            raise BadCall(f"No recorded fact has an id that begins with {begins}. `kitproof facts` lists them.")
        if len(mine) > 1:
            raise BadCall(f"Several facts begin with {begins}: {', '.join(one.id[:16] for one in mine)}.")
        (one,) = mine
        if one.taken_back is not None:
            raise BadCall(f"{line(one).why.rstrip('.')}; it says nothing any more.")
        said = TakenBack(names.plain(by.strip()), now(), one.id, names.plain(reason.strip()))
        facts.put(connection, Fact(fact_id(said), said))
        after = next(other for other in facts.every(connection) if other.id == one.id)
    return TookBack(line(after), Changes(vouching=True, words=True))
